package main

import (
	"net"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/compose-spec/compose-go/v2/cli"
	"github.com/compose-spec/compose-go/v2/types"
	"github.com/google/go-cmp/cmp"
	"github.com/jackc/pgx/v5"

	"ohmstead/internal/pgserver"
)

// secret is a password with everything in it that could break out of a URL or a
// YAML file.
const secret = `p@ss/w:rd?#%20 "'&`

// compose loads the repository's compose file as `docker compose` does.
func compose(t *testing.T, env ...string) (*types.Project, error) {
	t.Helper()
	options, err := cli.NewProjectOptions([]string{filepath.Join("..", "..", "docker-compose.yml")},
		cli.WithEnv(env), cli.WithResolvedPaths(true))
	if err != nil {
		t.Fatal(err)
	}
	return options.LoadProject(t.Context())
}

func mustCompose(t *testing.T, env ...string) *types.Project {
	t.Helper()
	p, err := compose(t, append(env, "OHMSTEAD_DB_PASSWORD="+secret)...)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func value(t *testing.T, s types.ServiceConfig, name string) string {
	t.Helper()
	v := s.Environment[name]
	if v == nil {
		t.Fatalf("service %s: no %s", s.Name, name)
	}
	return *v
}

func TestComposeNeedsAPassword(t *testing.T) {
	t.Parallel()
	for _, env := range [][]string{nil, {"OHMSTEAD_DB_PASSWORD="}} {
		if _, err := compose(t, env...); err == nil || !strings.Contains(err.Error(), "choose a password") {
			t.Errorf("with %q it starts without a password: %v", env, err)
		}
	}
}

func TestComposeServices(t *testing.T) {
	t.Parallel()
	p := mustCompose(t)
	names := p.ServiceNames()
	slices.Sort(names)
	if diff := cmp.Diff([]string{"db", "ohmstead"}, names); diff != "" {
		t.Fatalf("services (-want +got):\n%s", diff)
	}
	for name, s := range p.Services {
		if s.HealthCheck == nil || s.HealthCheck.Disable || len(s.HealthCheck.Test) < 2 {
			t.Errorf("%s: no health check", name)
		}
		if s.Restart != types.RestartPolicyUnlessStopped {
			t.Errorf("%s: does not come back after a restart of the machine", name)
		}
		if s.Build == nil && !pinnedByMajor(s.Image) {
			t.Errorf("%s: image %q is not pinned by its major version", name, s.Image)
		}
	}
	if d := p.Services["ohmstead"].DependsOn["db"]; d.Condition != types.ServiceConditionHealthy {
		t.Errorf("ohmstead waits for the database to be %q", d.Condition)
	}
	major, _, _ := strings.Cut(strings.TrimPrefix(p.Services["db"].Image, "postgres:"), "-")
	if n, err := strconv.Atoi(major); err != nil || n < pgserver.MinMajor {
		t.Errorf("the database is %q, Ohmstead needs %d or newer", p.Services["db"].Image, pgserver.MinMajor)
	}
}

// pinnedByMajor says whether a tag begins with a version number.
func pinnedByMajor(image string) bool {
	return regexp.MustCompile(`^[a-z0-9./-]+:[0-9]+(\.[0-9]+)*(-[a-z0-9.]+)?$`).MatchString(image)
}

// What the application is told must be what the database is made with.
func TestComposeDatabase(t *testing.T) {
	t.Parallel()
	p := mustCompose(t)
	app, db := p.Services["ohmstead"], p.Services["db"]
	url := value(t, app, "DATABASE_URL")
	cfg, err := pgx.ParseConfig(url)
	if err != nil {
		t.Fatal(err)
	}
	got := []string{cfg.Host, strconv.Itoa(int(cfg.Port)), cfg.User, cfg.Database, value(t, app, "PGPASSWORD")}
	want := []string{"db", "5432", value(t, db, "POSTGRES_USER"), value(t, db, "POSTGRES_DB"), value(t, db, "POSTGRES_PASSWORD")}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("host, port, user, database, password of db and of DATABASE_URL (-db +url):\n%s", diff)
	}
	if got[4] != secret {
		t.Errorf("the password arrives as %q", got[4])
	}
	if strings.Contains(strings.TrimPrefix(url, "postgres://ohmstead@"), "@") || !strings.HasPrefix(url, "postgres://ohmstead@") {
		t.Errorf("there is a password in %s", url)
	}
	i := slices.IndexFunc(db.Volumes, func(v types.ServiceVolumeConfig) bool { return v.Target == "/var/lib/postgresql/data" })
	if i < 0 || db.Volumes[i].Type != types.VolumeTypeVolume {
		t.Fatalf("the data do not outlive the container: %v", db.Volumes)
	}
	if _, declared := p.Volumes[db.Volumes[i].Source]; !declared {
		t.Errorf("volume %q is not declared", db.Volumes[i].Source)
	}
}

// By default nothing is reachable from another machine, and the database never is.
func TestComposeNetwork(t *testing.T) {
	t.Parallel()
	p := mustCompose(t)
	app, db := p.Services["ohmstead"], p.Services["db"]
	if len(db.Ports) > 0 {
		t.Errorf("the database publishes %v", db.Ports)
	}
	for name := range db.Networks {
		if !p.Networks[name].Internal {
			t.Errorf("the database is on %q, which leads outside", name)
		}
		if _, both := app.Networks[name]; !both {
			t.Errorf("ohmstead is not on %q, where the database is", name)
		}
	}
	if len(app.Ports) != 1 || app.Ports[0].HostIP != "127.0.0.1" || app.Ports[0].Published != "8080" {
		t.Fatalf("ohmstead publishes %v", app.Ports)
	}
	_, port, err := net.SplitHostPort(value(t, app, "OHMSTEAD_LISTEN"))
	if err != nil || port != strconv.Itoa(int(app.Ports[0].Target)) {
		t.Errorf("ohmstead listens on %s (%v), published is %d", port, err, app.Ports[0].Target)
	}
	if probe := strings.Join(app.HealthCheck.Test, " "); !strings.Contains(probe, "http://127.0.0.1:"+port+"/healthz") {
		t.Errorf("the health check asks %q", probe)
	}
	open := mustCompose(t, "OHMSTEAD_PUBLISH=0.0.0.0:80").Services["ohmstead"]
	if open.Ports[0].HostIP != "0.0.0.0" || open.Ports[0].Published != "80" {
		t.Errorf("with OHMSTEAD_PUBLISH it publishes %v", open.Ports)
	}
}

// Every variable that the file sets for ohmstead is one that it reads.
func TestComposeEnvironment(t *testing.T) {
	t.Parallel()
	known := []string{"PGPASSWORD"} // read by the driver
	for _, s := range settings(os.Getenv) {
		known = append(known, s.env)
	}
	for name := range mustCompose(t).Services["ohmstead"].Environment {
		if !slices.Contains(known, name) {
			t.Errorf("%s is no setting of ohmstead", name)
		}
	}
}

func TestDockerfile(t *testing.T) {
	t.Parallel()
	read := func(name string) string {
		b, err := os.ReadFile(filepath.Join("..", "..", name))
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	file := read("Dockerfile")
	bases := regexp.MustCompile(`(?m)^FROM (\S+)`).FindAllStringSubmatch(file, -1)
	if len(bases) != 2 {
		t.Fatalf("%d stages", len(bases))
	}
	for _, base := range bases {
		if !pinnedByMajor(base[1]) {
			t.Errorf("image %q is not pinned by its major version", base[1])
		}
	}
	needs := regexp.MustCompile(`(?m)^go (\d+\.\d+)`).FindStringSubmatch(read("go.mod"))
	if needs == nil || !strings.HasPrefix(bases[0][1], "golang:"+needs[1]) {
		t.Errorf("built with %s, go.mod asks for %v", bases[0][1], needs)
	}
	if !regexp.MustCompile(`(?m)^USER [1-9]`).MatchString(file) {
		t.Error("the program runs as root")
	}
	if ignored := read(".dockerignore"); !strings.Contains(ignored, ".env\n") {
		t.Error("the file with the password would go into the image's build")
	}
}
