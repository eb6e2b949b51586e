// SPDX-License-Identifier: Apache-2.0

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"

	"towpath/events"
	"towpath/web"
)

// maxAnswer bounds what is read of a server's answer.
const maxAnswer = 1 << 20

// reportToServer posts one fact and says what became of it.
func reportToServer(ctx context.Context, server string, batch ...events.Event) (string, error) {
	e := batch[len(batch)-1]
	base, err := url.Parse(server)
	if err != nil || base.Host == "" || base.Scheme != "http" && base.Scheme != "https" {
		return "", usage("e.g. --server http://127.0.0.1:8080", "--server %q is no web address", server)
	}
	whole := web.ReportBody{By: e.By}
	for _, x := range batch {
		data, err := json.Marshal(x.Data)
		if err != nil {
			return "", trouble("", "%v", err)
		}
		whole.Reports = append(whole.Reports, web.ReportedFact{ID: x.ID, Kind: x.Kind, Station: x.Station, At: x.At, Data: data})
	}
	body, err := json.Marshal(whole)
	if err != nil {
		return "", trouble("", "%v", err)
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, base.JoinPath("/api/report").String(), bytes.NewReader(body))
	if err != nil {
		return "", usage("", "%v", err)
	}
	req.Header.Set("Content-Type", "application/json")
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		return "", unreached(server, e.ID, err)
	}
	defer res.Body.Close()
	text, err := io.ReadAll(io.LimitReader(res.Body, maxAnswer))
	if err != nil {
		return "", unreached(server, e.ID, err)
	}
	if res.StatusCode != http.StatusOK {
		return "", refused(server, res.StatusCode, text)
	}
	var answer web.ReportAnswer
	if err := json.Unmarshal(text, &answer); err != nil {
		return "", trouble("is it a towpath server?", "%s answered something else: %v", server, err)
	}
	said := fmt.Sprintf("recorded as number %d: %s", answer.Seq, answer.Said)
	if answer.Repeat {
		said = fmt.Sprintf("known already as number %d; nothing changed", answer.Seq)
	}
	for _, n := range answer.Notes {
		said += "\nnote: " + n.About + ": " + n.Text
	}
	return said, nil
}

func unreached(server, id string, err error) error {
	if errors.Is(err, context.DeadlineExceeded) {
		return trouble("send it again with --id "+id+": it counts once", "no answer from %s in time; the report may have been recorded", server)
	}
	return trouble("is it running there?", "%s cannot be reached: %v", server, err)
}

func refused(server string, status int, text []byte) error {
	var answer struct {
		Message string `json:"message"`
		Hint    string `json:"hint"`
	}
	if json.Unmarshal(text, &answer) != nil || answer.Message == "" {
		return trouble("", "%s answered %d %s", server, status, strings.TrimSpace(http.StatusText(status)))
	}
	return trouble(answer.Hint, "not recorded: %s", answer.Message)
}
