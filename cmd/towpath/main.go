// SPDX-License-Identifier: Apache-2.0

// Command towpath plans a shop that winds, cures, bonds and proves composite
// shafts, and keeps the plan true while the shop works. Run it with --help.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	os.Exit(run(os.Args[1:], os.Stdout, os.Stderr))
}

// run is main without the exit. A first interrupt asks for an orderly stop; a
// second one ends the program at once.
func run(args []string, out, errs *os.File) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop)
	root := newRoot(out, errs)
	root.SetArgs(args)
	return exitCode(errs, root.ExecuteContext(ctx))
}
