package main

import (
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
)

// Config is everything that can be set from outside. Each field has a flag, which
// wins, an environment variable, and a default that suits one shop on one machine.
type Config struct {
	Listen      string // address and port for browsers
	Origin      string // where browsers find it through a proxy; may be empty
	Data        string // directory of the private PostgreSQL
	DatabaseURL string // a PostgreSQL to use instead; empty: the private one
	Profiles    string // directory of further board profiles; may be empty
	PGBin       string // where postgres and initdb are; empty: the usual places
	LogLevel    string // debug, info, warn or error
	LogFormat   string // text or json
}

// setting is one line of the table that flags, environment and help come from.
type setting struct {
	flag, env string
	field     func(*Config) *string
	standard  string
	usage     string
}

func settings(getenv func(string) string) []setting {
	return []setting{
		{"listen", "OHMSTEAD_LISTEN", func(c *Config) *string { return &c.Listen }, "127.0.0.1:8080",
			"`address`:port for browsers; :8080 serves the shop's whole network"},
		{"origin", "OHMSTEAD_ORIGIN", func(c *Config) *string { return &c.Origin }, "",
			"`https://host` by which browsers come through a proxy that speaks HTTPS"},
		{"data", "OHMSTEAD_DATA", func(c *Config) *string { return &c.Data }, dataDir(getenv),
			"`directory` of the private PostgreSQL"},
		{"database", "DATABASE_URL", func(c *Config) *string { return &c.DatabaseURL }, "",
			"`postgres://…` of a PostgreSQL, 15 or newer, to use instead of the private one"},
		{"profiles", "OHMSTEAD_PROFILES", func(c *Config) *string { return &c.Profiles }, "",
			"`directory` of board profiles beside the shipped ones"},
		{"pg-bin", "OHMSTEAD_PG_BIN", func(c *Config) *string { return &c.PGBin }, "",
			"`directory` with the programs postgres and initdb, if not in a usual place"},
		{"log-level", "OHMSTEAD_LOG_LEVEL", func(c *Config) *string { return &c.LogLevel }, "info",
			"debug, info, warn or error"},
		{"log-format", "OHMSTEAD_LOG_FORMAT", func(c *Config) *string { return &c.LogFormat }, "text",
			"text or json"},
	}
}

// dataDir is where programs keep data of their own. Root's goes where the account
// that PostgreSQL then runs as can reach it: it could not below /root.
func dataDir(getenv func(string) string) string {
	home, _ := os.UserHomeDir()
	switch {
	case runtime.GOOS == "windows":
		return filepath.Join(getenv("LocalAppData"), "Ohmstead")
	case os.Geteuid() == 0:
		return "/var/lib/ohmstead"
	case runtime.GOOS == "darwin":
		return filepath.Join(home, "Library", "Application Support", "Ohmstead")
	case filepath.IsAbs(getenv("XDG_DATA_HOME")):
		return filepath.Join(getenv("XDG_DATA_HOME"), "ohmstead")
	}
	return filepath.Join(home, ".local", "share", "ohmstead")
}

// flagsOf makes the flags of a command with the named settings (all when none is
// named); parsing them fills cfg. The caller may add flags of its own.
func flagsOf(c console, name string, cfg *Config, names ...string) *flag.FlagSet {
	fs := flag.NewFlagSet("ohmstead "+name, flag.ContinueOnError)
	fs.SetOutput(c.stderr)
	for _, s := range settings(c.getenv) {
		value := s.standard
		if v := c.getenv(s.env); v != "" {
			value = v
		}
		*s.field(cfg) = value
		if len(names) == 0 || slices.Contains(names, s.flag) {
			fs.StringVar(s.field(cfg), s.flag, value, s.usage+" ("+s.env+")")
		}
	}
	return fs
}

// logger writes structured lines as the settings ask.
func (cfg Config) logger(w io.Writer) (*slog.Logger, error) {
	var level slog.Level
	if err := level.UnmarshalText([]byte(cfg.LogLevel)); err != nil {
		return nil, fmt.Errorf("--log-level %q: it is one of debug, info, warn, error", cfg.LogLevel)
	}
	options := &slog.HandlerOptions{Level: level}
	switch strings.ToLower(cfg.LogFormat) {
	case "text":
		return slog.New(slog.NewTextHandler(w, options)), nil
	case "json":
		return slog.New(slog.NewJSONHandler(w, options)), nil
	}
	return nil, fmt.Errorf("--log-format %q: it is text or json", cfg.LogFormat)
}

// checkOrigin refuses an origin with more than scheme and host.
func (cfg Config) checkOrigin() error {
	u, err := url.Parse(cfg.Origin)
	if cfg.Origin == "" || err == nil && (u.Scheme == "https" || u.Scheme == "http") && u.Host != "" && u.Scheme+"://"+u.Host == cfg.Origin {
		return nil
	}
	return fmt.Errorf("--origin %q: it is a scheme and a host, as in https://shop.example", cfg.Origin)
}
