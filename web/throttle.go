package web

import (
	"strings"
	"sync"
	"time"
)

// throttle slows down guessing: after a few refusals a name, and an address,
// must wait longer and longer. Nobody is locked out for good, so a stranger
// cannot lock a colleague out either: the waiting is per name and address
// together, with a wider allowance per address alone.
//
// It lives in memory: several processes each keep their own count, which slows
// a guesser a little less and harms nobody.
type throttle struct {
	mu   sync.Mutex
	seen map[string]*attempts
}

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

func newThrottle() *throttle { return &throttle{seen: map[string]*attempts{}} }

// wait tells how long this name at this address must still wait.
func (t *throttle) wait(name, address string, now time.Time) time.Duration {
	t.mu.Lock()
	defer t.mu.Unlock()
	longest := time.Duration(0)
	for _, key := range keys(name, address) {
		if a := t.seen[key]; a != nil && a.until.After(now) {
			longest = max(longest, a.until.Sub(now))
		}
	}
	return longest
}

// refused counts one wrong password.
func (t *throttle) refused(name, address string, now time.Time) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.forget(now)
	for i, key := range keys(name, address) {
		a := t.seen[key]
		if a == nil {
			a = &attempts{}
			t.seen[key] = a
		}
		a.refused++
		a.last = now
		free := freeTries
		if i == 1 {
			free = freeTriesAddress
		}
		if over := a.refused - free; over >= 0 {
			a.until = now.Add(min(longestWait, time.Second<<min(over, 10)))
		}
	}
}

// welcomed forgets the refusals of a name at an address.
func (t *throttle) welcomed(name, address string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.seen, keys(name, address)[0])
}

func (t *throttle) forget(now time.Time) {
	for key, a := range t.seen {
		if now.Sub(a.last) > forgetAfter || len(t.seen) > mostRemembered {
			delete(t.seen, key)
		}
	}
}

func keys(name, address string) [2]string {
	return [2]string{strings.ToLower(strings.TrimSpace(name)) + "\x00" + address, "\x00" + address}
}
