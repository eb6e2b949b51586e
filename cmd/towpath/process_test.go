// SPDX-License-Identifier: Apache-2.0

package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// process is a running towpath.
type process struct {
	t    *testing.T
	cmd  *exec.Cmd
	addr string // of its pages
	bus  string // of its message bus
	mqtt string // of its MQTT listener
	errs *lockedBuffer
	done chan error
}

// lockedBuffer may be read while a process writes.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// begin starts towpath and waits until it says where it is.
func begin(t *testing.T, args ...string) *process {
	t.Helper()
	p := &process{t: t, cmd: exec.Command("towpath", args...), errs: &lockedBuffer{}, done: make(chan error, 1)}
	p.cmd.Stderr = p.errs
	out, err := p.cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, p.cmd.Start())
	t.Cleanup(p.kill)
	told := make(chan bool, 1)
	go func() {
		lines := bufio.NewScanner(out)
		for lines.Scan() {
			if _, addr, ok := strings.Cut(lines.Text(), " is at "); ok {
				p.addr = addr
			}
			if rest, ok := strings.CutPrefix(lines.Text(), "stations that speak MQTT 3.1.1 report to "); ok {
				p.mqtt = rest
			}
			if rest, ok := strings.CutPrefix(lines.Text(), "stations report to "); ok {
				p.bus, _, _ = strings.Cut(rest, " ")
				told <- true
			}
		}
		p.done <- p.cmd.Wait()
	}()
	select {
	case <-told:
	case err := <-p.done:
		p.done <- err
		require.Fail(t, "it ended", "%v\n%s", err, p.errs)
	case <-time.After(time.Minute):
		require.Fail(t, "it does not say where it is", "%s", p.errs)
	}
	return p
}

// kill ends it as a power cut does.
func (p *process) kill() {
	_ = p.cmd.Process.Kill()
	p.done <- <-p.done
}

// interrupt asks it to stop and gives its exit code.
func (p *process) interrupt() int {
	p.t.Helper()
	require.NoError(p.t, p.cmd.Process.Signal(syscall.SIGINT))
	select {
	case err := <-p.done:
		p.done <- err
		return p.cmd.ProcessState.ExitCode()
	case <-time.After(time.Minute):
		require.Fail(p.t, "it does not stop", "%s", p.errs)
		return -1
	}
}

// get reads a page.
func (p *process) get(path string) (int, string) {
	p.t.Helper()
	res, err := http.Get(p.addr + path)
	require.NoError(p.t, err)
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	require.NoError(p.t, err)
	return res.StatusCode, string(text)
}

// until polls a page till it holds a text.
func (p *process) until(path, text string) {
	p.t.Helper()
	var code int
	var got string
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if code, got = p.get(path); code == http.StatusOK && strings.Contains(got, text) {
			return
		}
	}
	require.Fail(p.t, "not there", "%s never has %q; last: %d %.500s\n%s", path, text, code, got, p.errs)
}

// someOrders is an orders file for the smallest plant, due in a month.
func someOrders(t *testing.T, n int) string {
	t.Helper()
	due := time.Now().AddDate(0, 1, 0).Format(time.DateOnly)
	text := "order,line,customer,product,quantity,ship_by,weight,kind,earliest_start,note\n"
	for i := range n {
		text += fmt.Sprintf("A%d,1,X,BOX,2,%s,1,firm,,\n", i+1, due)
	}
	return write(t, "orders.csv", text)
}

// demoStart is a file of the demo's first order lines.
func demoStart(t *testing.T, n int) string {
	t.Helper()
	all, err := os.ReadFile(demoOrders)
	require.NoError(t, err)
	return write(t, "orders.csv", strings.Join(strings.SplitAfterN(string(all), "\n", n+2)[:n+1], ""))
}

func isExist(t *testing.T, path string) bool {
	t.Helper()
	_, err := os.Stat(path)
	return err == nil
}
