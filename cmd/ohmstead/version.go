package main

import (
	"context"
	"fmt"
	"runtime"
	"runtime/debug"

	"ohmstead/internal/pgserver"
)

// version tells what a report of a fault needs: release, Go, system, PostgreSQL.
func version(_ context.Context, c console) int {
	fmt.Fprintf(c.stdout, "Ohmstead %s\n%s %s/%s, PostgreSQL %d or newer\n",
		release(), runtime.Version(), runtime.GOOS, runtime.GOARCH, pgserver.MinMajor)
	return exitOK
}

// release names the build, as Go's tools have stamped it: a tag, or time and
// revision of the checkout.
func release() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" || info.Main.Version == "(devel)" {
		return "(development)"
	}
	return info.Main.Version
}
