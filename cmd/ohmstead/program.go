package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"strconv"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"

	"ohmstead/migrations"
)

// drainPatience is how long requests may take to end when the shop closes.
const drainPatience = 5 * time.Second

// Main is the whole program: a test can Run it, use it over HTTP and Close it.
type Main struct {
	Config Config
	Log    *slog.Logger

	Throwaway bool                                       // the data need not survive
	Tries     int                                        // how many further ports to try when one is taken
	Fill      func(context.Context, *pgxpool.Pool) error // called on the migrated database before serving; may be nil

	listener net.Listener
	db       *database
	pool     *pgxpool.Pool
	http     *http.Server
	cut      context.CancelFunc // ends requests that outlive drainPatience
	failed   chan error         // why serving ended by itself
}

// Run starts everything in order and returns when the shop is open. After an error
// nothing is left running.
func (m *Main) Run(ctx context.Context) error {
	err := m.start(ctx)
	if err != nil {
		return errors.Join(err, m.Close())
	}
	return nil
}

func (m *Main) start(ctx context.Context) (err error) {
	// The port first: it is the most likely to be refused, and costs nothing.
	if m.listener, err = listen(m.Config.Listen, m.Tries); err != nil {
		return err
	}
	if m.db, err = openDatabase(ctx, m.Config, m.Log, m.Throwaway); err != nil {
		return err
	}
	if err := migrations.Up(ctx, m.db.url); err != nil {
		return err
	}
	if m.pool, err = m.db.pool(ctx); err != nil {
		return err
	}
	if m.Fill != nil {
		if err := m.Fill(ctx, m.pool); err != nil {
			return err
		}
	}
	handler, err := newHandler(ctx, m.pool, m.Config, m.Log)
	if err != nil {
		return err
	}
	m.serve(handler)
	return nil
}

// serve answers requests from now on. There is no limit on the time of writing:
// a live page is one long answer.
func (m *Main) serve(h http.Handler) {
	base, cut := context.WithCancel(context.Background())
	m.cut = cut
	m.http = &http.Server{
		Handler:           h,
		BaseContext:       func(net.Listener) context.Context { return base },
		ReadHeaderTimeout: 10 * time.Second,
		ReadTimeout:       time.Minute,
		IdleTimeout:       2 * time.Minute,
		ErrorLog:          slog.NewLogLogger(m.Log.Handler(), slog.LevelDebug),
	}
	m.failed = make(chan error, 1)
	go func() { m.failed <- m.http.Serve(m.listener) }()
}

// Wait returns nil when ctx ends, and an error when the shop cannot stay open.
func (m *Main) Wait(ctx context.Context) error {
	select {
	case <-ctx.Done():
		return nil
	case <-m.db.died():
		return errors.New("the database server has ended; what was stored is safe, start Ohmstead again")
	case err := <-m.failed:
		return fmt.Errorf("serving: %w", err)
	}
}

// URL is where a browser on this machine finds the shop.
func (m *Main) URL() string {
	host, port, err := net.SplitHostPort(m.listener.Addr().String())
	if err != nil {
		return "http://" + m.listener.Addr().String()
	}
	if ip := net.ParseIP(host); ip == nil || ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	return "http://" + net.JoinHostPort(host, port)
}

// Close lets running requests end, then closes what Run opened, last things first.
func (m *Main) Close() error {
	var errs []error
	if m.http != nil {
		ctx, cancel := context.WithTimeout(context.Background(), drainPatience)
		defer cancel()
		if err := m.http.Shutdown(ctx); err != nil {
			m.cut()
			errs = append(errs, m.http.Close())
		}
		m.cut()
	} else if m.listener != nil {
		errs = append(errs, m.listener.Close())
	}
	if m.pool != nil {
		m.pool.Close()
	}
	if m.db != nil {
		errs = append(errs, m.db.close())
	}
	return errors.Join(errs...)
}

// listen opens the address, or one of the ports after it when some are allowed.
func listen(address string, tries int) (net.Listener, error) {
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		return nil, fmt.Errorf("--listen %q: it is an address and a port, as in 127.0.0.1:8080", address)
	}
	first, err := strconv.Atoi(port)
	if err != nil || first < 0 || first > 65535 {
		return nil, fmt.Errorf("--listen %q: the port is a number from 0 to 65535", address)
	}
	for n := first; ; n++ {
		l, err := net.Listen("tcp", net.JoinHostPort(host, strconv.Itoa(n)))
		switch {
		case err == nil:
			return l, nil
		case n < first+tries && errors.Is(err, syscall.EADDRINUSE):
			continue
		case errors.Is(err, syscall.EADDRINUSE):
			return nil, fmt.Errorf("%s is taken by another program; choose another with --listen or OHMSTEAD_LISTEN", address)
		case errors.Is(err, os.ErrPermission):
			return nil, fmt.Errorf("%s needs rights that this user has not; choose a port from 1024 on with --listen or OHMSTEAD_LISTEN", address)
		default:
			return nil, fmt.Errorf("--listen %q: %w", address, err)
		}
	}
}
