package web_test

import (
	"net/http"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5"

	"ohmstead/internal/pgserver/pgtest"
)

// beside runs SQL on a connection that is not the shop's, to the database named or,
// for "", to the cluster's own.
func (h *house) beside(sql string, args ...any) {
	h.t.Helper()
	ctx := h.t.Context()
	c, err := pgx.Connect(ctx, pgtest.AdminURL(h.t))
	if err == nil {
		_, err = c.Exec(ctx, sql, args...)
		c.Close(ctx) //nolint:errcheck // a connection of its own
	}
	if err != nil {
		h.t.Fatal(err)
	}
}

// cutOff ends every connection of the shop to its database, as a restart does.
func (h *house) cutOff() {
	h.t.Helper()
	h.beside(`SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = $1`, h.pool.Config().ConnConfig.Database)
}

// fillPool makes the shop open as many connections as it may.
func (h *house) fillPool(v *visitor) {
	var all sync.WaitGroup
	for range 4 * h.pool.Stat().MaxConns() {
		all.Go(func() { v.get("/counter").wants(http.StatusOK) })
	}
	all.Wait()
}

func TestTheShopGoesOnAfterTheDatabaseWasRestarted(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	v := h.as(mirela)
	h.fillPool(v)
	h.cutOff()
	v.post("/take-in", newCustomersForm()).leadsTo("/tickets/1?done=taken-in")
	h.cutOff()
	v.get("/tickets/1").wants(http.StatusOK)
}

// The server ends in the middle of a request, after the ticket and before its
// journal: nothing of it is stored, and the same form again is stored once.
func TestAnOutageInTheMiddleStoresNothing(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	v := h.as(mirela)
	exec := func(sql string) {
		t.Helper()
		if _, err := h.pool.Exec(t.Context(), sql); err != nil {
			t.Fatal(err)
		}
	}
	exec(`CREATE FUNCTION die() RETURNS trigger LANGUAGE plpgsql AS
		$$ BEGIN PERFORM pg_terminate_backend(pg_backend_pid()); PERFORM pg_sleep(5); RETURN NEW; END $$`)
	exec(`CREATE TRIGGER die BEFORE INSERT ON ticket_event FOR EACH ROW EXECUTE FUNCTION die()`)
	form := newCustomersForm()
	v.post("/take-in", form).wants(http.StatusServiceUnavailable).says("Nothing was stored").neverSays("ticket_event", "SQLSTATE")
	exec(`DROP TRIGGER die ON ticket_event`)
	v.get("/find?q=brook").wants(http.StatusOK).neverSays("SD-0417")
	v.post("/take-in", form).leadsTo("/tickets/1?done=taken-in")
}

func TestADatabaseThatIsAwayIsSaidAndComesBack(t *testing.T) {
	t.Parallel()
	h := openHouse(t)
	h.at(november)
	v := h.as(mirela)
	name := pgx.Identifier{h.pool.Config().ConnConfig.Database}.Sanitize()
	h.beside(`ALTER DATABASE ` + name + ` ALLOW_CONNECTIONS false`)
	h.cutOff()
	for _, path := range []string{"/", "/counter", "/healthz", "/sign-in"} {
		v.get(path).wants(http.StatusServiceUnavailable).says("does not answer just now").neverSays("SQLSTATE", "dial", "postgres:")
	}
	v.post("/take-in", newCustomersForm()).wants(http.StatusServiceUnavailable).says("Nothing was stored")
	h.beside(`ALTER DATABASE ` + name + ` ALLOW_CONNECTIONS true`)
	v.get("/healthz").wants(http.StatusOK)
	v.post("/take-in", newCustomersForm()).leadsTo("/tickets/1?done=taken-in")
}
