package main

import (
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// configOf reads flags and environment as serve does.
func configOf(t *testing.T, env map[string]string, args ...string) Config {
	t.Helper()
	var cfg Config
	c := console{getenv: func(name string) string { return env[name] }, stderr: io.Discard}
	if err := flagsOf(c, "serve", &cfg).Parse(args); err != nil {
		t.Fatal(err)
	}
	return cfg
}

func TestConfig(t *testing.T) {
	t.Parallel()
	standard := Config{
		Listen: "127.0.0.1:8080", Data: dataDir(func(string) string { return "" }),
		LogLevel: "info", LogFormat: "text",
	}
	for name, c := range map[string]struct {
		env  map[string]string
		args []string
		want func(*Config)
	}{
		"defaults": {want: func(*Config) {}},
		"environment": {
			env: map[string]string{
				"OHMSTEAD_LISTEN": ":80", "OHMSTEAD_ORIGIN": "https://shop.example", "OHMSTEAD_DATA": "/d", "DATABASE_URL": "postgres://x/y",
				"OHMSTEAD_PROFILES": "/p", "OHMSTEAD_PG_BIN": "/b", "OHMSTEAD_LOG_LEVEL": "debug", "OHMSTEAD_LOG_FORMAT": "json",
			},
			want: func(c *Config) {
				*c = Config{":80", "https://shop.example", "/d", "postgres://x/y", "/p", "/b", "debug", "json"}
			},
		},
		"flags win": {
			env:  map[string]string{"OHMSTEAD_LISTEN": ":80", "OHMSTEAD_PROFILES": "/p"},
			args: []string{"--listen", ":81", "-profiles="},
			want: func(c *Config) { c.Listen = ":81" },
		},
	} {
		want := standard
		c.want(&want)
		if diff := cmp.Diff(want, configOf(t, c.env, c.args...)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
}

// The shop only serves this machine unless somebody asks for more.
func TestDefaultAddressIsThisMachine(t *testing.T) {
	t.Parallel()
	if got := configOf(t, nil).Listen; !strings.HasPrefix(got, "127.0.0.1:") {
		t.Errorf("by default it listens on %s", got)
	}
}

func TestDataDir(t *testing.T) {
	t.Parallel()
	none := func(string) string { return "" }
	dir := dataDir(none)
	if !filepath.IsAbs(dir) {
		t.Errorf("%s depends on where the program is started", dir)
	}
	if home, err := os.UserHomeDir(); os.Geteuid() == 0 && err == nil && strings.HasPrefix(dir, home) {
		t.Errorf("%s is below root's home, where PostgreSQL's account cannot go", dir)
	}
	if runtime.GOOS == "linux" && os.Geteuid() != 0 {
		got := dataDir(func(name string) string { return map[string]string{"XDG_DATA_HOME": "/x"}[name] })
		if got != "/x/ohmstead" {
			t.Errorf("with XDG_DATA_HOME: %s", got)
		}
	}
}

func TestLogger(t *testing.T) {
	t.Parallel()
	var out strings.Builder
	log, err := Config{LogLevel: "warn", LogFormat: "json"}.logger(&out)
	if err != nil {
		t.Fatal(err)
	}
	log.Info("not this")
	log.Warn("this", "n", 1)
	if got := out.String(); strings.Contains(got, "not this") || !strings.Contains(got, `"msg":"this","n":1`) {
		t.Errorf("logged %s", got)
	}
}

func TestOrigin(t *testing.T) {
	t.Parallel()
	for origin, want := range map[string]bool{
		"": true, "https://shop.example": true, "http://shop.lan:8080": true,
		"shop.example": false, "https://": false, "https://shop.example/": false, "ftp://shop.example": false, "https://u@shop.example": false, "://": false,
	} {
		if err := (Config{Origin: origin}).checkOrigin(); (err == nil) != want {
			t.Errorf("%q: %v", origin, err)
		}
	}
}
