package postgres

import (
	"context"
	"errors"

	"github.com/google/uuid"

	"ohmstead/internal/evidence"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

// Bodies follow file by file; this file goes away.
var errSoon = errors.New("postgres: body not written yet")

// NeedsOwner tells whether nobody has ever been entered: the first start.
func (s *Store) NeedsOwner(ctx context.Context) (bool, error) { return false, errSoon }

// FirstOwner creates the shop, its first settings and its owner, once: when
// somebody exists already it is fault.Conflict, also for two who race.
func (s *Store) FirstOwner(ctx context.Context, site shop.Site, set shop.Settings, name, passwordHash string) (staff.Person, error) {
	return staff.Person{}, errSoon
}

// People lists everybody of the actor's site, active first, by name.
func (s *Store) People(ctx context.Context, by staff.Actor) ([]staff.Person, error) {
	return nil, errSoon
}

// AddPerson enters somebody with a first password, to be changed at sign-in.
// A name that is taken is a fault.Invalid on field "name".
func (s *Store) AddPerson(ctx context.Context, by staff.Actor, name string, role staff.Role, passwordHash string) (staff.Person, error) {
	return staff.Person{}, errSoon
}

// SetPassword stores a new hash and ends the person's other sessions. One's own
// password clears must_change; an owner may set somebody else's, which sets it.
// keep is the token hash of the session that stays (nil: none).
func (s *Store) SetPassword(ctx context.Context, by staff.Actor, person uuid.UUID, passwordHash string, keep []byte) error {
	return errSoon
}

// SetRole changes a person's role; the last active owner keeps theirs.
func (s *Store) SetRole(ctx context.Context, by staff.Actor, person uuid.UUID, role staff.Role) error {
	return errSoon
}

// Deactivate ends a person's work here and all their sessions; the last active
// owner cannot go.
func (s *Store) Deactivate(ctx context.Context, by staff.Actor, person uuid.UUID) error {
	return errSoon
}

// Reactivate lets a person sign in again.
func (s *Store) Reactivate(ctx context.Context, by staff.Actor, person uuid.UUID) error {
	return errSoon
}

// PersonByName finds an active person for signing in, whatever the case of the
// name; fault.NotFound otherwise.
func (s *Store) PersonByName(ctx context.Context, name string) (staff.Person, error) {
	return staff.Person{}, errSoon
}

// StartSession stores a session by its token's hash, with the limits of package staff.
func (s *Store) StartSession(ctx context.Context, person uuid.UUID, tokenHash []byte, device *uuid.UUID) (staff.Session, error) {
	return staff.Session{}, errSoon
}

// SessionPerson gives the living session of a token hash and its person, and
// notes that it was used; fault.NotFound when ended, idle too long, too old, or
// the person is gone.
func (s *Store) SessionPerson(ctx context.Context, tokenHash []byte) (staff.Session, error) {
	return staff.Session{}, errSoon
}

// EndSession signs a browser out. Ending what has ended is no error.
func (s *Store) EndSession(ctx context.Context, tokenHash []byte) error { return errSoon }

// EndSessionsOf signs a person out everywhere.
func (s *Store) EndSessionsOf(ctx context.Context, by staff.Actor, person uuid.UUID) error {
	return errSoon
}

// AddDevice gives a tablet its own token, so that readings get in after a session has expired.
func (s *Store) AddDevice(ctx context.Context, by staff.Actor, name string, tokenHash []byte) (uuid.UUID, error) {
	return uuid.Nil, errSoon
}

// DeviceByToken gives the device of a token hash; fault.NotFound when unknown or revoked.
func (s *Store) DeviceByToken(ctx context.Context, tokenHash []byte) (uuid.UUID, error) {
	return uuid.Nil, errSoon
}

// RevokeDevice makes a device's token worthless.
func (s *Store) RevokeDevice(ctx context.Context, by staff.Actor, device uuid.UUID) error {
	return errSoon
}

// Audit appends to the record of sign-ins and refusals.
func (s *Store) Audit(ctx context.Context, a staff.Audit) error { return errSoon }

// AuditTrail lists the newest entries, newest first, at most 200.
func (s *Store) AuditTrail(ctx context.Context, by staff.Actor) ([]staff.Audit, error) {
	return nil, errSoon
}

// Site gives a shop's own record.
func (s *Store) Site(ctx context.Context, site uuid.UUID) (shop.Site, error) {
	return shop.Site{}, errSoon
}

// SaveSite changes name, address, time zone, locale and currency.
func (s *Store) SaveSite(ctx context.Context, by staff.Actor, site shop.Site) error { return errSoon }

// Settings gives the terms that count now.
func (s *Store) Settings(ctx context.Context, site uuid.UUID) (shop.Settings, error) {
	return shop.Settings{}, errSoon
}

// SaveSettings makes new terms count from now on; the old ones stay on record.
func (s *Store) SaveSettings(ctx context.Context, by staff.Actor, set shop.Settings) error {
	return errSoon
}

// FindCustomers finds by phone digits (beginning or last four, at least three)
// or by the beginnings of words of the name (at least two letters); at most 20.
func (s *Store) FindCustomers(ctx context.Context, query string) ([]shop.Customer, error) {
	return nil, errSoon
}

// Customer gives one customer.
func (s *Store) Customer(ctx context.Context, id uuid.UUID) (shop.Customer, error) {
	return shop.Customer{}, errSoon
}

// SaveCustomer changes a customer; c.Version is the one that was seen, another
// one in the database is fault.Conflict.
func (s *Store) SaveCustomer(ctx context.Context, by staff.Actor, c shop.Customer) (shop.Customer, error) {
	return shop.Customer{}, errSoon
}

// TakeIn stores customer (known or new), board (known again by serial or tag)
// and ticket with the site's next number. A board that was here before makes
// the ticket a comeback, unless told otherwise. An intake whose TicketID is stored
// already gives that ticket again and changes nothing: a form sent twice.
func (s *Store) TakeIn(ctx context.Context, by staff.Actor, in shop.Intake) (shop.Ticket, error) {
	return shop.Ticket{}, errSoon
}

// Find finds tickets by number, phone digits, serial or tag, or name; the open
// ones first, then newest first, at most 50.
func (s *Store) Find(ctx context.Context, by staff.Actor, query string) ([]shop.Summary, error) {
	return nil, errSoon
}

// OpenTickets lists what is in the shop, in the order of the states' list and
// then by number; no states means all open ones. At most 500; more tells
// whether there are others.
func (s *Store) OpenTickets(ctx context.Context, by staff.Actor, states ...shop.State) (list []shop.Summary, more bool, err error) {
	return nil, false, errSoon
}

// TicketByNumber gives a ticket's whole story.
func (s *Store) TicketByNumber(ctx context.Context, by staff.Actor, number int64) (shop.Story, error) {
	return shop.Story{}, errSoon
}

// TicketByID gives a ticket's whole story by its key.
func (s *Store) TicketByID(ctx context.Context, by staff.Actor, id uuid.UUID) (shop.Story, error) {
	return shop.Story{}, errSoon
}

// Move takes a ticket to another state. seen is the version of the ticket that
// the person saw: a move made since by somebody else is fault.Conflict (other
// changes, readings say, do not disturb). A step that does not exist or lacks
// what it needs is fault.Conflict too, a missing reason fault.Invalid on "reason".
func (s *Store) Move(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, to shop.State, reason string) (shop.Ticket, error) {
	return shop.Ticket{}, errSoon
}

// Correct changes fields of a ticket, each with old, new and reason in the
// journal. A correction of the same field since seen is fault.Conflict.
func (s *Store) Correct(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, fixes ...shop.Correction) (shop.Ticket, error) {
	return shop.Ticket{}, errSoon
}

// Void takes a ticket out of every list, with a reason; its number stays used.
func (s *Store) Void(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, reason string) error {
	return errSoon
}

// Families lists the kinds of board, by name, at most 500.
func (s *Store) Families(ctx context.Context) ([]shop.Family, error) { return nil, errSoon }

// SaveFamily enters a family (zero ID) or changes its title and price.
func (s *Store) SaveFamily(ctx context.Context, by staff.Actor, f shop.Family) (shop.Family, error) {
	return shop.Family{}, errSoon
}

// Revisions lists the revisions of a family, or of all (uuid.Nil), by name, at most 1000.
func (s *Store) Revisions(ctx context.Context, family uuid.UUID) ([]shop.Revision, error) {
	return nil, errSoon
}

// Profile gives one profile version, with its text.
func (s *Store) Profile(ctx context.Context, id uuid.UUID) (shop.Profile, error) {
	return shop.Profile{}, errSoon
}

// SyncProfiles stores the shipped profiles that are not stored yet, with their
// families and revisions, and says how many were new. A version is never changed.
func (s *Store) SyncProfiles(ctx context.Context, shipped []shop.Profile) (int, error) {
	return 0, errSoon
}

// AssignRevision says which revision the ticket's board is, with a reason, and
// pins the revision's newest profile to the ticket. uuid.Nil: not known after all.
func (s *Store) AssignRevision(ctx context.Context, by staff.Actor, ticket, revision uuid.UUID, reason string) (shop.Ticket, error) {
	return shop.Ticket{}, errSoon
}

// AddMeter stores a meter's description (once, by content) and gives its version's key.
func (s *Store) AddMeter(ctx context.Context, by staff.Actor, name string, yaml []byte) (uuid.UUID, error) {
	return uuid.Nil, errSoon
}

// StoreReadings keeps what a device sent as it came, then applies it, and says
// for each what became of it. Nothing is refused: what cannot be applied is
// Kept with its reason. The same id with the same content is Already; with other
// content Kept.
func (s *Store) StoreReadings(ctx context.Context, by staff.Actor, ticket uuid.UUID, batch []evidence.Reading) ([]evidence.Receipt, error) {
	return nil, errSoon
}

// Strike takes a reading out of the count, with a reason.
func (s *Store) Strike(ctx context.Context, by staff.Actor, ticket, reading uuid.UUID, reason string) error {
	return errSoon
}

// StoreDeadProof stores one proof and what it allows (ID may be made by the
// device; limits and result are set here); the same ID again is stored once.
func (s *Store) StoreDeadProof(ctx context.Context, by staff.Actor, p evidence.DeadProof) (evidence.DeadProof, error) {
	return evidence.DeadProof{}, errSoon
}

// StorePowerEvent stores that the board was powered or unpowered; it closes the gate.
func (s *Store) StorePowerEvent(ctx context.Context, by staff.Actor, p evidence.PowerEvent) error {
	return errSoon
}

// AddFinding stores a confirmed cause.
func (s *Store) AddFinding(ctx context.Context, by staff.Actor, f evidence.Finding) (evidence.Finding, error) {
	return evidence.Finding{}, errSoon
}

// WithdrawFinding takes a finding back, with a reason; it stays on record.
func (s *Store) WithdrawFinding(ctx context.Context, by staff.Actor, ticket, finding uuid.UUID, reason string) error {
	return errSoon
}

// AddFitted stores a part that was put in.
func (s *Store) AddFitted(ctx context.Context, by staff.Actor, f evidence.Fitted) (evidence.Fitted, error) {
	return evidence.Fitted{}, errSoon
}

// AddSeen stores what was seen.
func (s *Store) AddSeen(ctx context.Context, by staff.Actor, f evidence.Seen) (evidence.Seen, error) {
	return evidence.Seen{}, errSoon
}

// SaveQuote replaces the lines and note of the ticket's draft, beginning a new
// version when there is none or the last was sent. A change of the quote since
// seen is fault.Conflict.
func (s *Store) SaveQuote(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, note string, lines []quote.Line) (quote.Version, error) {
	return quote.Version{}, errSoon
}

// AddQuoteLine appends one line to the draft, as SaveQuote begins one when needed
// (with the lines of the version sent last).
func (s *Store) AddQuoteLine(ctx context.Context, by staff.Actor, ticket uuid.UUID, line quote.Line) (quote.Version, error) {
	return quote.Version{}, errSoon
}

// RemoveQuoteLine takes one line out of the draft.
func (s *Store) RemoveQuoteLine(ctx context.Context, by staff.Actor, ticket, line uuid.UUID) (quote.Version, error) {
	return quote.Version{}, errSoon
}

// SendQuote freezes the draft and numbers it as a document.
func (s *Store) SendQuote(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64) (quote.Version, error) {
	return quote.Version{}, errSoon
}

// RecordConsent writes down a customer's answer; a new limit becomes the ticket's.
func (s *Store) RecordConsent(ctx context.Context, by staff.Actor, c quote.Consent) (quote.Consent, error) {
	return quote.Consent{}, errSoon
}

// HandOver freezes the slip, numbers it and ends the ticket. A repaired board
// needs a text and the proof of every safety block.
func (s *Store) HandOver(ctx context.Context, by staff.Actor, ticket uuid.UUID, seen int64, h shop.HandOver) (shop.Document, error) {
	return shop.Document{}, errSoon
}

// Document gives one frozen document by kind ("slip", "quote") and number.
func (s *Store) Document(ctx context.Context, by staff.Actor, kind string, number int64) (shop.Document, error) {
	return shop.Document{}, errSoon
}
