package web

import (
	"net/netip"
	"sync"
	"time"

	"ohmstead/internal/staff"
)

// throttle slows down guessing: after a few refusals a name, and an address,
// must wait longer and longer. Nobody is locked out for good, so a stranger
// cannot lock a colleague out either: the waiting is per name and address
// together, with a wider allowance per address alone.
//
// A try counts as refused until it has succeeded, so that many tries at the same
// moment are no way around. It lives in memory: several processes each keep
// their own count, which slows a guesser a little less and harms nobody.
type throttle struct {
	mu   sync.Mutex
	seen map[attempt]*attempts
}

// attempt is whose tries are counted together; name is empty for all those of an
// address.
type attempt struct{ name, address string }

type attempts struct {
	refused int
	until   time.Time
	last    time.Time
}

const (
	freeTries        = 5
	freeTriesAddress = 30
	longestWait      = 5 * time.Minute
	forgetAfter      = 30 * time.Minute
	mostRemembered   = 10_000
)

func newThrottle() *throttle { return &throttle{seen: map[attempt]*attempts{}} }

// enter counts a try of this name at this address, or tells how long it must
// still wait; then nothing may be tried.
func (t *throttle) enter(name, address string, now time.Time) (wait time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	one, all := countedAs(name, address)
	for _, key := range []attempt{one, all} {
		if a := t.seen[key]; a != nil {
			wait = max(wait, a.until.Sub(now))
		}
	}
	if wait > 0 {
		return wait
	}
	t.forget(now)
	t.count(one, freeTries, now)
	t.count(all, freeTriesAddress, now)
	return 0
}

func (t *throttle) count(key attempt, free int, now time.Time) {
	a := t.seen[key]
	if a == nil {
		a = &attempts{}
		t.seen[key] = a
	}
	a.refused++
	a.last = now
	if over := a.refused - free; over >= 0 {
		a.until = now.Add(min(longestWait, time.Second<<min(over, 10)))
	}
}

// welcomed forgets the tries of a name at an address: the last one was right.
func (t *throttle) welcomed(name, address string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	one, all := countedAs(name, address)
	delete(t.seen, one)
	if a := t.seen[all]; a != nil {
		if a.refused--; a.refused < freeTriesAddress {
			a.until = time.Time{}
		}
	}
}

func (t *throttle) forget(now time.Time) {
	for key, a := range t.seen {
		if now.Sub(a.last) > forgetAfter || len(t.seen) > mostRemembered {
			delete(t.seen, key)
		}
	}
}

// countedAs gives whose tries these are: a name counts in any writing that would
// sign the same person in, an IPv6 address by its network, which one household
// or one machine has to itself.
func countedAs(name, address string) (one, all attempt) {
	if ip, err := netip.ParseAddr(address); err == nil {
		ip = ip.Unmap().WithZone("")
		address = ip.String()
		if net, err := ip.Prefix(64); err == nil && ip.Is6() {
			address = net.String()
		}
	}
	return attempt{staff.NameKey(name), address}, attempt{"", address}
}
