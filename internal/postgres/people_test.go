package postgres

import (
	"errors"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/pgserver/pgtest"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

func TestTheFirstOwnerComesOnce(t *testing.T) {
	t.Parallel()
	s := New(pgtest.DB(t))
	if none, err := s.NeedsOwner(t.Context()); err != nil || !none {
		t.Fatalf("an empty database needs an owner: %v, %v", none, err)
	}
	const rivals = 4
	errs := make([]error, rivals)
	var wg sync.WaitGroup
	for i := range rivals {
		wg.Go(func() { _, errs[i] = s.FirstOwner(t.Context(), quay, pay, "Ansa", "hash") })
	}
	wg.Wait()
	won := 0
	for _, err := range errs {
		if err == nil {
			won++
		} else if fault.KindOf(err) != fault.Conflict {
			t.Errorf("who came late was told %v", err)
		}
	}
	if won != 1 {
		t.Errorf("%d owners were first", won)
	}
	sites := 0
	if err := s.pool.QueryRow(t.Context(), `SELECT count(*) FROM site`).Scan(&sites); err != nil || sites != 1 {
		t.Errorf("%d shops, %v", sites, err)
	}
	if none, err := s.NeedsOwner(t.Context()); err != nil || none {
		t.Errorf("an owner is still needed: %v, %v", none, err)
	}
}

func TestTheFirstOwnersFormIsChecked(t *testing.T) {
	t.Parallel()
	s := New(pgtest.DB(t))
	loose := pay
	loose.ResistanceVolts = 1
	for field, try := range map[string]func() error{
		"name": func() error { _, err := s.FirstOwner(t.Context(), quay, pay, " ", "hash"); return err },
		"tz": func() error {
			_, err := s.FirstOwner(t.Context(), shop.Site{Name: "x", Locale: "de", Currency: "EUR"}, pay, "Ansa", "h")
			return err
		},
		"resistance_volts": func() error { _, err := s.FirstOwner(t.Context(), quay, loose, "Ansa", "hash"); return err },
	} {
		wantField(t, "first owner", try(), field)
	}
	if none, _ := s.NeedsOwner(t.Context()); !none {
		t.Error("a refused form left a person behind")
	}
}

func TestPeople(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	_, err := w.AddPerson(t.Context(), w.owner, " tobin ", staff.Bench, "hash")
	wantField(t, "the same name in small letters", err, "name")
	_, err = w.AddPerson(t.Context(), w.owner, "Pell", "wizard", "hash")
	wantField(t, "an unknown role", err, "role")
	_, err = w.AddPerson(t.Context(), w.desk, "Pell", staff.Bench, "hash")
	wantKind(t, "by the desk", err, fault.Forbidden)

	p := must(w.PersonByName(t.Context(), "  MIRELA "))
	if p.ID != w.desk.Person || p.PasswordHash != "hash-m" || !p.MustChangePassword || p.Role != staff.FrontDesk {
		t.Errorf("%+v", p)
	}
	_, err = w.PersonByName(t.Context(), "Nobody")
	wantKind(t, "unknown name", err, fault.NotFound)

	if err := w.SetRole(t.Context(), w.owner, w.bench.Person, staff.FrontDesk); err != nil {
		t.Error(err)
	}
	if err := w.Deactivate(t.Context(), w.owner, w.bench.Person); err != nil {
		t.Error(err)
	}
	_, err = w.PersonByName(t.Context(), "Tobin")
	wantKind(t, "a person who has left", err, fault.NotFound)
	var names []string
	for _, p := range must(w.People(t.Context(), w.owner)) {
		names = append(names, p.Name)
	}
	if diff := cmp.Diff([]string{"Ansa", "Mirela", "Tobin"}, names); diff != "" {
		t.Errorf("active first, then by name:\n%s", diff)
	}
	if err := w.Reactivate(t.Context(), w.owner, w.bench.Person); err != nil {
		t.Error(err)
	}
	if p := must(w.Person(t.Context(), w.owner, w.bench.Person)); !p.Active() || p.Role != staff.FrontDesk {
		t.Errorf("%+v", p)
	}
	for what, err := range map[string]error{
		"role":       w.SetRole(t.Context(), w.owner, uuid.New(), staff.Bench),
		"deactivate": w.Deactivate(t.Context(), w.owner, uuid.New()),
		"reactivate": w.Reactivate(t.Context(), w.owner, uuid.New()),
		"password":   w.SetPassword(t.Context(), w.owner, uuid.New(), "h", nil),
	} {
		wantKind(t, what+" of nobody", err, fault.NotFound)
	}
}

func TestAnOwnerIsAlwaysLeft(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	wantKind(t, "the only owner steps down", w.SetRole(t.Context(), w.owner, w.owner.Person, staff.Bench), fault.Conflict)
	wantKind(t, "the only owner goes", w.Deactivate(t.Context(), w.owner, w.owner.Person), fault.Conflict)
	second := must(w.AddPerson(t.Context(), w.owner, "Second", staff.Owner, "hash")).Actor()
	var wg sync.WaitGroup
	errs := make([]error, 2)
	for i, who := range []staff.Actor{w.owner, second} {
		wg.Go(func() { errs[i] = w.Deactivate(t.Context(), who, who.Person) })
	}
	wg.Wait()
	if (errs[0] == nil) == (errs[1] == nil) {
		t.Errorf("of two owners who leave at once one stays: %v, %v", errs[0], errs[1])
	}
}

// ASVS 5.0 V7.2.4, V7.3.1, V7.3.2, V7.4.1, V7.4.2: limits hold, signing out and
// deactivating end what they should.
func TestSessionsEnd(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	start := func(token string) []byte {
		hash := staff.TokenHash(token)
		ses := must(w.StartSession(t.Context(), w.desk.Person, hash, nil))
		if ses.Person.ID != w.desk.Person || !ses.ExpiresAt.Equal(w.clock.now().Add(staff.AbsoluteLimit)) {
			t.Errorf("%+v", ses)
		}
		return hash
	}
	alive := func(hash []byte) bool {
		_, err := w.SessionPerson(t.Context(), hash)
		if err != nil && fault.KindOf(err) != fault.NotFound {
			t.Error(err)
		}
		return err == nil
	}
	for name, end := range map[string]func(hash []byte){
		"signed out":          func(hash []byte) { _ = w.EndSession(t.Context(), hash) },
		"signed out all over": func([]byte) { _ = w.EndSessionsOf(t.Context(), w.desk, w.desk.Person) },
		"by the owner":        func([]byte) { _ = w.EndSessionsOf(t.Context(), w.owner, w.desk.Person) },
		"a new password":      func([]byte) { _ = w.SetPassword(t.Context(), w.owner, w.desk.Person, "new", nil) },
		"idle":                func([]byte) { w.clock.pass(staff.IdleLimit) },
		"deactivated":         func([]byte) { _ = w.Deactivate(t.Context(), w.owner, w.desk.Person) },
	} {
		_ = w.Reactivate(t.Context(), w.owner, w.desk.Person)
		hash := start(name)
		if !alive(hash) {
			t.Errorf("%s: not alive before", name)
		}
		if end(hash); alive(hash) {
			t.Errorf("%s: still alive", name)
		}
	}
	if alive(staff.TokenHash("never given")) {
		t.Error("a token that was never given is alive")
	}
	wantKind(t, "somebody else's sessions", w.EndSessionsOf(t.Context(), w.bench, w.desk.Person), fault.Forbidden)
}

func TestABusySessionEndsAtItsAbsoluteLimit(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	hash := staff.TokenHash("busy")
	must(w.StartSession(t.Context(), w.desk.Person, hash, nil))
	for range int(staff.AbsoluteLimit / time.Hour / 10) {
		w.clock.pass(10 * time.Hour) // less than the idle limit
		if _, err := w.SessionPerson(t.Context(), hash); err != nil {
			if passed := w.clock.now().Sub(time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC)); passed < staff.AbsoluteLimit {
				t.Fatalf("ended after %s: %v", passed, err)
			}
		}
	}
	w.clock.pass(10 * time.Hour)
	_, err := w.SessionPerson(t.Context(), hash)
	wantKind(t, "after a week", err, fault.NotFound)
}

func TestPasswords(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	mine, other := staff.TokenHash("mine"), staff.TokenHash("other")
	must(w.StartSession(t.Context(), w.desk.Person, mine, nil))
	must(w.StartSession(t.Context(), w.desk.Person, other, nil))
	if err := w.SetPassword(t.Context(), w.desk, w.desk.Person, "new", mine); err != nil {
		t.Fatal(err)
	}
	ses, err := w.SessionPerson(t.Context(), mine)
	if err != nil || ses.Person.PasswordHash != "new" || ses.Person.MustChangePassword {
		t.Errorf("%+v, %v", ses.Person, err)
	}
	_, err = w.SessionPerson(t.Context(), other)
	wantKind(t, "the other session", err, fault.NotFound)
	wantKind(t, "somebody else's password", w.SetPassword(t.Context(), w.bench, w.desk.Person, "x", nil), fault.Forbidden)
	if err := w.SetPassword(t.Context(), w.owner, w.desk.Person, "given", nil); err != nil {
		t.Fatal(err)
	}
	if p := must(w.PersonByName(t.Context(), "Mirela")); !p.MustChangePassword {
		t.Error("a password that the owner gave need not be changed")
	}
	if err := w.SetPassword(t.Context(), w.desk, w.desk.Person, "", nil); err == nil {
		t.Error("an empty hash was stored")
	}
}

func TestDevices(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	hash := staff.TokenHash("tablet")
	id := must(w.AddDevice(t.Context(), w.bench, "Tablet 1", hash))
	got, site, err := w.DeviceByToken(t.Context(), hash)
	if err != nil || got != id || site != w.bench.Site {
		t.Errorf("%s at %s, %v", got, site, err)
	}
	if err := w.RevokeDevice(t.Context(), w.owner, id); err != nil {
		t.Error(err)
	}
	_, _, err = w.DeviceByToken(t.Context(), hash)
	wantKind(t, "revoked", err, fault.NotFound)
	wantKind(t, "by the bench", w.RevokeDevice(t.Context(), w.bench, id), fault.Forbidden)
	wantKind(t, "unknown", w.RevokeDevice(t.Context(), w.owner, uuid.New()), fault.NotFound)
	_, err = w.AddDevice(t.Context(), w.desk, "Tablet 2", staff.TokenHash("2"))
	wantKind(t, "by the desk", err, fault.Forbidden)
}

// ASVS 5.0 V16.2.1, V16.3.1, V16.4.1: sign-ins and refusals are kept, in order,
// and what was typed cannot forge a line.
func TestAudit(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for _, a := range []staff.Audit{
		{SiteID: &w.owner.Site, PersonID: &w.desk.Person, Name: "Mirela", Kind: "signed_in", Address: "192.0.2.7"},
		{Name: "mirela\n2026-03-04 signed_in Ansa", Kind: "refused", Address: "192.0.2.66", Note: "\x1b[31m\xff"},
	} {
		w.clock.pass(time.Second)
		if err := w.Audit(t.Context(), a); err != nil {
			t.Fatal(err)
		}
	}
	list := must(w.AuditTrail(t.Context(), w.owner))
	if len(list) != 2 || list[0].Kind != "refused" || list[1].Kind != "signed_in" || *list[1].PersonID != w.desk.Person {
		t.Fatalf("%+v", list)
	}
	if list[0].Name != "mirela 2026-03-04 signed_in Ansa" || list[0].Note != " [31m?" {
		t.Errorf("%q, %q", list[0].Name, list[0].Note)
	}
	_, err := w.AuditTrail(t.Context(), w.bench)
	wantKind(t, "by the bench", err, fault.Forbidden)
}

func TestSettingsKeepTheirHistory(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	next := pay
	next.GuaranteeDays, next.HandlingVolts = 365, 2
	next.DangerMinutes, next.LiftedMinutes = must(quote.DecimalFrom("12.5")), 0
	w.clock.pass(time.Hour)
	if err := w.SaveShop(t.Context(), w.owner, quay, next); err != nil {
		t.Fatal(err)
	}
	next.ValidFrom = w.clock.now()
	if diff := cmp.Diff(next, must(w.Settings(t.Context(), w.owner.Site))); diff != "" {
		t.Errorf("(-saved +read):\n%s", diff)
	}
	w.clock.pass(-time.Minute)
	if got := must(w.Settings(t.Context(), w.owner.Site)); got.GuaranteeDays != 180 {
		t.Errorf("a minute before they were saved, %d days counted", got.GuaranteeDays)
	}
	w.clock.pass(-1000 * time.Hour)
	if got := must(w.Settings(t.Context(), w.owner.Site)); got.GuaranteeDays != 180 {
		t.Errorf("before the first settings, %d days counted", got.GuaranteeDays)
	}
	w.clock.pass(1000 * time.Hour)
	next.HandlingVolts = 6
	wantField(t, "looser than shipped", w.SaveShop(t.Context(), w.owner, quay, next), "handling_volts")
	wantKind(t, "by the desk", w.SaveShop(t.Context(), w.desk, quay, pay), fault.Forbidden)
	_, err := w.Settings(t.Context(), uuid.New())
	wantKind(t, "of no shop", err, fault.NotFound)

	moved := quay
	moved.Name, moved.TZ = "Lantern Quay", "Atlantic/Azores"
	w.clock.pass(time.Hour)
	next = must(w.Settings(t.Context(), w.owner.Site))
	w.clock.pass(time.Minute)
	ok(w.SaveShop(t.Context(), w.owner, moved, next))
	if got := must(w.Site(t.Context(), w.owner.Site)); got.Name != "Lantern Quay" || got.TZ != "Atlantic/Azores" {
		t.Errorf("%+v", got)
	}
	w.clock.pass(time.Minute)
	moved.Name = "Another"
	wantKind(t, "over what somebody else stored", w.SaveShop(t.Context(), w.owner, moved, next), fault.Conflict)
	if got := must(w.Site(t.Context(), w.owner.Site)); got.Name != "Lantern Quay" {
		t.Errorf("half of it was stored: %+v", got)
	}
	wantField(t, "site without a name", w.SaveShop(t.Context(), w.owner, shop.Site{TZ: "UTC", Locale: "de", Currency: "EUR"}, pay), "site_name")
}

func TestAnActorBelongsToASite(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	_, err := w.AddPerson(t.Context(), staff.Actor{Role: staff.Owner}, "Pell", staff.Bench, "hash")
	var f *fault.Error
	if err == nil || errors.As(err, &f) {
		t.Errorf("an actor without a site: %v", err)
	}
}
