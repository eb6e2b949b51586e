// SPDX-License-Identifier: Apache-2.0

package natslog

import (
	"fmt"
	"log/slog"
	"net"
	"strconv"
	"time"

	"github.com/nats-io/nats.go"

	"towpath/events"
)

// InProcess as Config.Listen keeps the embedded broker off the network.
const InProcess = "none"

// MaxPayload is the largest message the embedded broker takes, in bytes. An
// external one must be configured with at least this (max_payload).
const MaxPayload = 8 << 20

// Config says where a plant's log is.
type Config struct {
	Plant string // the plant's name; required

	// Dir is the folder of the embedded broker. URL names an external broker
	// instead, e.g. "nats://broker:4222"; then Dir and Listen are not used.
	Dir string
	URL string

	// Listen is where stations reach the embedded broker, "host:port". Empty:
	// 127.0.0.1 with a free port. Port 0: a free port. InProcess: nowhere.
	// The embedded broker asks nobody for a password: a host other than the
	// loopback opens the log to everyone who can reach it.
	Listen string

	// MQTT is where stations that speak MQTT 3.1.1 reach the embedded broker,
	// "host:port"; port 0: a free port. Empty: nowhere. Like Listen it asks
	// nobody for a password. An external broker has a listener of its own.
	MQTT string

	// Window is how long the broker remembers event IDs; default 10 minutes.
	Window time.Duration
	// Replicas of the streams on an external cluster; 0: as many as they have,
	// and 1 when they are made.
	Replicas int
	// Term is how long a Lease outlasts its holder's last word; default 5 s. It
	// is the same for all programs on a broker.
	Term time.Duration
	// Options for the connection: credentials, TLS, ….
	Options []nats.Option
	// Logger gets the broker's warnings; nil: none.
	Logger *slog.Logger
}

const defaultWindow = 10 * time.Minute

// complete checks a Config and fills in the defaults.
func (c Config) complete() (Config, error) {
	switch {
	case !events.ValidName(c.Plant):
		return c, fmt.Errorf("%w: plant %q: give the plant's name", ErrConfig, c.Plant)
	case c.URL == "" && c.Dir == "":
		return c, fmt.Errorf("%w: give a folder for the embedded broker or the URL of an external one", ErrConfig)
	case c.URL != "" && c.MQTT != "":
		return c, fmt.Errorf("%w: mqtt %q: the external broker must listen for MQTT itself", ErrConfig, c.MQTT)
	case c.Window < 0 || c.Term < 0 || c.Replicas < 0 || c.Replicas > 5:
		return c, fmt.Errorf("%w: window %v, term %v, replicas %d: want a window and a term of 0 or more and 0 to 5 replicas", ErrConfig, c.Window, c.Term, c.Replicas)
	}
	if c.Window == 0 {
		c.Window = defaultWindow
	}
	if c.Term == 0 {
		c.Term = defaultTerm
	}
	if c.MQTT != "" {
		if _, _, err := hostPort(c.MQTT); err != nil {
			return c, err
		}
	}
	if c.URL == "" && c.Listen != InProcess {
		if c.Listen == "" {
			c.Listen = "127.0.0.1:0"
		}
		if _, _, err := hostPort(c.Listen); err != nil {
			return c, err
		}
	}
	return c, nil
}

func hostPort(listen string) (string, int, error) {
	host, text, err := net.SplitHostPort(listen)
	port, bad := strconv.ParseUint(text, 10, 16)
	if err != nil || bad != nil {
		return "", 0, fmt.Errorf("%w: listen %q: want host:port, e.g. 127.0.0.1:4222", ErrConfig, listen)
	}
	if host == "" {
		host = "127.0.0.1" // all interfaces must be asked for by name, 0.0.0.0
	}
	return host, int(port), nil
}
