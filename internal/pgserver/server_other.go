//go:build !unix

package pgserver

import (
	"context"
	"fmt"
	"os"
)

// Start refuses: the embedded server needs Unix sockets and process groups.
func Start(context.Context, Options) (*Server, error) {
	return nil, fmt.Errorf("%w: on this system Ohmstead does not run PostgreSQL by itself; set DATABASE_URL to a PostgreSQL %d or newer", ErrNoBinaries, MinMajor)
}

// Remove has nothing to stop here.
func Remove(_ context.Context, dir string) error { return os.RemoveAll(dir) }
