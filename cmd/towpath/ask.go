// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"io"
	"net/http"
	"net/url"
	"time"
)

// askServer gets an answer from a running shop.
func askServer(ctx context.Context, server, path string, query url.Values, wait time.Duration) ([]byte, error) {
	base, err := url.Parse(server)
	if err != nil || base.Host == "" || base.Scheme != "http" && base.Scheme != "https" {
		return nil, usage("e.g. --server http://127.0.0.1:8080", "--server %q is no web address", server)
	}
	ctx, cancel := context.WithTimeout(ctx, wait)
	defer cancel()
	to := base.JoinPath(path)
	to.RawQuery = query.Encode()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, to.String(), nil)
	if err != nil {
		return nil, usage("", "%v", err)
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		return nil, trouble("is it running there?", "%s cannot be reached: %v", server, err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(io.LimitReader(res.Body, 16*maxAnswer))
	if err != nil {
		return nil, trouble("", "%v", err)
	}
	if res.StatusCode != http.StatusOK {
		return nil, refused(server, res.StatusCode, body)
	}
	return body, nil
}
