//go:build !unix

package pgtest

import (
	"context"
	"errors"
)

var errNoUnix = errors.New("tests on Postgres run on Unix systems only")

func join(context.Context, string) (*server, error) { return nil, errNoUnix }

func isMissing(err error) bool { return errors.Is(err, errNoUnix) }
