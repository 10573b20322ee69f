// Package pgserver finds the PostgreSQL programs installed on this machine and
// runs a private server on them: a cluster in a directory of ours, reached only
// through a socket in a directory that nobody else may enter, never over TCP.
//
// The server lives and dies with the process that started it. It is told to stop
// when that process ends in any way, a leftover of an earlier run is found and
// stopped before a new one starts, and when the server itself is killed Died says
// so. What was committed is on the disk: fsync and synchronous_commit stay on,
// except for a Throwaway cluster.
//
// It knows nothing of tables: the schema is made by package migrations.
// Systems without Unix sockets and process groups (Windows) build, but Start
// refuses there and points to DATABASE_URL.
package pgserver

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"strings"

	"github.com/jackc/pgx/v5"
)

// MinMajor is the oldest major version of PostgreSQL that Ohmstead works with.
const MinMajor = 15

// The role and the database of the application in a cluster of ours. The role is
// no superuser: a mistake in the application cannot reach files or other roles.
const (
	superuser = "postgres"
	appName   = "ohmstead"
)

var (
	// ErrNoBinaries says that no usable PostgreSQL programs were found; the text
	// of the error that wraps it lists the ways out.
	ErrNoBinaries = errors.New("no usable PostgreSQL found")
	// ErrInUse says that another process holds the directory.
	ErrInUse = errors.New("directory is in use")
	// ErrOtherMajor says that the data were written by another major version
	// than any that is installed. The data have not been touched.
	ErrOtherMajor = errors.New("data of another PostgreSQL version")
)

// Options say where and how to run a server. Only Dir is required.
type Options struct {
	Dir         string       // holds cluster, socket and lock; made when missing
	BinDir      string       // where postgres and initdb are; empty: the usual places
	Log         *slog.Logger // the server's own messages; nil: none
	Connections int          // upper limit; 0: 100
	Throwaway   bool         // give up durability for speed: tests and demo only
}

// Server is a running PostgreSQL.
type Server struct {
	version  string
	url      string
	adminURL string
	died     chan struct{}
	stop     func() error
}

// Version names the release, as in "15.4".
func (s *Server) Version() string { return s.version }

// URL connects to the application's database as its owner.
func (s *Server) URL() string { return s.url }

// AdminURL connects to the maintenance database as the superuser.
func (s *Server) AdminURL() string { return s.adminURL }

// Died is closed when the server has ended without being asked to. Nothing can be
// stored any more then: the application should end, and recover at its next start.
func (s *Server) Died() <-chan struct{} { return s.died }

// Stop ends open sessions, stops the server and lets go of the directory.
// It may be called more than once, and after the server has died.
func (s *Server) Stop() error { return s.stop() }

// Check connects to any PostgreSQL and refuses one that is older than MinMajor.
func Check(ctx context.Context, databaseURL string) error {
	conn, err := pgx.Connect(ctx, databaseURL)
	if err != nil {
		return fmt.Errorf("cannot connect to the database that DATABASE_URL names: %w", err)
	}
	defer conn.Close(context.WithoutCancel(ctx))
	var number int
	if err := conn.QueryRow(ctx, `SELECT current_setting('server_version_num')::int`).Scan(&number); err != nil {
		return fmt.Errorf("ask the database for its version: %w", err)
	}
	if major := number / 10000; major < MinMajor {
		return fmt.Errorf("the database is PostgreSQL %d; Ohmstead needs %d or newer", major, MinMajor)
	}
	return nil
}

// socketURL makes a connection string for a role and a database behind the socket
// in dir. Every setting that an environment variable could change is spelled out.
// A blank must not become "+", which pgx takes as it is.
func socketURL(dir, role, database string) string {
	q := url.Values{"host": {dir}, "port": {socketPort}, "sslmode": {"disable"}}
	u := url.URL{Scheme: "postgres", User: url.User(role), Path: "/" + database, RawQuery: strings.ReplaceAll(q.Encode(), "+", "%20")}
	return u.String()
}

// socketPort only numbers the socket's file; nothing listens on a TCP port.
const socketPort = "5432"
