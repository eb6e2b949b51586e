// SPDX-License-Identifier: Apache-2.0

package natslog

import (
	"context"
	"errors"
	"fmt"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

var (
	// ErrConflict is the answer to an Append whose expected last sequence is
	// not the last any more: read what came in between and decide again.
	ErrConflict = errors.New("the log has moved on")
	// ErrInUse means that another process keeps its log in the same folder.
	ErrInUse = errors.New("the log folder is in use by another process")
	// ErrOldBroker means that the broker lacks atomic batches (NATS server
	// 2.12) or JetStream.
	ErrOldBroker = errors.New("the broker is too old or has no JetStream; NATS server 2.12 or newer with JetStream is needed")
	// ErrClosed is the answer of a log or feed after Close.
	ErrClosed = errors.New("the log is closed")
	// ErrConfig wraps what is wrong with a Config.
	ErrConfig = errors.New("log configuration")
	// ErrUnavailable means that the broker does not answer. What was being
	// appended may or may not be stored: append it again with the same IDs.
	ErrUnavailable = errors.New("the broker does not answer")
)

// Error codes of the JetStream API that natslog tells apart.
const (
	codeWrongLastID         = jetstream.ErrorCode(10070)
	codeWrongLast           = jetstream.ErrorCode(10071)
	codeWrongLastReplicated = jetstream.ErrorCode(10164) // the same on a stream with replicas
	codeBatchHasDuplicate   = jetstream.ErrorCode(10201)
)

// isCode reports whether err carries one of the API error codes.
func isCode(err error, codes ...jetstream.ErrorCode) bool {
	var api *jetstream.APIError
	var js jetstream.JetStreamError
	if !errors.As(err, &api) {
		if !errors.As(err, &js) || js.APIError() == nil {
			return false
		}
		api = js.APIError()
	}
	for _, c := range codes {
		if api.ErrorCode == c {
			return true
		}
	}
	return false
}

func wrongLast(err error) bool { return isCode(err, codeWrongLast, codeWrongLastReplicated) }

// explain maps an error of the client library to one of ours.
func explain(doing string, err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, nats.ErrConnectionClosed), errors.Is(err, jetstream.ErrConnectionClosed),
		errors.Is(err, jetstream.ErrMsgIteratorClosed), errors.Is(err, nats.ErrConnectionDraining),
		errors.Is(err, nats.ErrBadSubscription):
		return fmt.Errorf("%s: %w", doing, ErrClosed)
	case wrongLast(err):
		return fmt.Errorf("%s: %w", doing, ErrConflict)
	case errors.Is(err, context.Canceled):
		return fmt.Errorf("%s: %w", doing, err)
	case errors.Is(err, nats.ErrNoResponders), errors.Is(err, jetstream.ErrNoStreamResponse), errors.Is(err, nats.ErrTimeout),
		errors.Is(err, context.DeadlineExceeded), errors.Is(err, nats.ErrNoServers), errors.Is(err, nats.ErrDisconnected):
		return fmt.Errorf("%s: %w: %w", doing, ErrUnavailable, err)
	default:
		return fmt.Errorf("%s: %w", doing, err)
	}
}
