//go:build unix

package pgserver

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"
)

var discard = slog.New(slog.DiscardHandler)

// Start runs a server on the cluster in o.Dir and makes the cluster first when
// there is none. It returns when the application's database can be used, which
// after a crash means after recovery. Stop must be called in the end.
//
// Errors wrap ErrNoBinaries, ErrInUse or ErrOtherMajor where one of these is why.
func Start(ctx context.Context, o Options) (*Server, error) {
	if o.Log == nil {
		o.Log = discard
	}
	if o.Connections == 0 {
		o.Connections = 100
	}
	c, err := openCluster(ctx, o)
	if err != nil {
		return nil, err
	}
	began := time.Now()
	pm, err := c.launch(ctx)
	if err != nil {
		c.close()
		return nil, err
	}
	if err := createApp(ctx, socketURL(c.socketDir, superuser, superuser)); err != nil {
		pm.stop(c.Throwaway)
		c.close()
		return nil, err
	}
	o.Log.Info("database server is ready", "version", c.inst.version, "dir", c.Dir, "took", time.Since(began).Round(time.Millisecond))
	return c.server(pm), nil
}

// server wraps a running postmaster.
func (c *cluster) server(pm *postmaster) *Server {
	s := &Server{
		version:  c.inst.version,
		url:      socketURL(c.socketDir, appName, appName),
		adminURL: socketURL(c.socketDir, superuser, superuser),
		died:     make(chan struct{}),
	}
	stopping := make(chan struct{})
	go func() {
		<-pm.done
		select {
		case <-stopping:
		default:
			c.Log.Error("the database server has ended unexpectedly", "status", pm.status)
			close(s.died)
		}
	}()
	s.stop = sync.OnceValue(func() error {
		close(stopping)
		defer c.close()
		return pm.stop(c.Throwaway)
	})
	return s
}

// launch starts the server and waits until it answers. Sessions of a killed
// server may hold its shared memory for a moment longer: then it tries again.
func (c *cluster) launch(ctx context.Context) (*postmaster, error) {
	for deadline := time.Now().Add(stopPatience); ; {
		pm, err := startPostmaster(c)
		if err != nil {
			return nil, err
		}
		err = pm.waitReady(ctx, socketURL(c.socketDir, superuser, superuser))
		if err == nil {
			return pm, nil
		}
		pm.stop(true)
		if !strings.Contains(err.Error(), "pre-existing shared memory block") || time.Now().After(deadline) {
			return nil, err
		}
		if err := pause(ctx, 100*time.Millisecond); err != nil {
			return nil, err
		}
	}
}

// args are the server's. Given here they win over the cluster's configuration
// files, where an operator may tune all else.
func (c *cluster) args() []string {
	durable := "on"
	if c.Throwaway {
		durable = "off"
	}
	settings := []string{
		"listen_addresses=",
		"port=" + socketPort,
		`unix_socket_directories="` + strings.ReplaceAll(c.socketDir, `"`, `""`) + `"`,
		"unix_socket_permissions=0700",
		fmt.Sprintf("max_connections=%d", c.Connections),
		"fsync=" + durable,
		"synchronous_commit=" + durable,
		"full_page_writes=" + durable,
		"timezone=UTC",
		"lc_messages=C",
		"logging_collector=off",
		"log_destination=stderr",
		"log_line_prefix=",
		// An error in a statement reaches the application, which logs it with
		// the request; here it would only repeat what the statement held.
		"log_min_messages=log",
	}
	if c.Throwaway {
		settings = append(settings, "wal_level=minimal", "max_wal_senders=0", "max_wal_size=128MB")
	}
	args := []string{"-D", c.data()}
	for _, s := range settings {
		args = append(args, "-c", s)
	}
	return args
}

// createApp makes the application's role and database where they are missing.
func createApp(ctx context.Context, adminURL string) error {
	conn, err := pgx.Connect(ctx, adminURL)
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	var role, database bool
	err = conn.QueryRow(ctx, `SELECT
		EXISTS (SELECT FROM pg_roles WHERE rolname = $1),
		EXISTS (SELECT FROM pg_database WHERE datname = $1)`, appName).Scan(&role, &database)
	if err != nil {
		return fmt.Errorf("look for the application's database: %w", err)
	}
	if !role {
		if _, err := conn.Exec(ctx, `CREATE ROLE `+appName+` LOGIN`); err != nil {
			return fmt.Errorf("create the application's role: %w", err)
		}
	}
	if !database {
		if _, err := conn.Exec(ctx, `CREATE DATABASE `+appName+` OWNER `+appName); err != nil {
			return fmt.Errorf("create the application's database: %w", err)
		}
	}
	return nil
}

// stopSignal is a fast shutdown, or an immediate one that writes nothing more.
func stopSignal(immediate bool) syscall.Signal {
	if immediate {
		return syscall.SIGQUIT
	}
	return syscall.SIGINT
}
