package analysis

import "sync"

// worked is what was worked out for one weighing beyond what each cause does alone:
// causes that meet, what stands beside a leading one, cells with a bend. The
// dictionary remembers all of it to save time; but a weighing sees only what it
// asked for itself, or an answer would hang on what was asked before.
type worked struct {
	mu       sync.RWMutex
	combined map[combination]*outcome
	besides  map[pairKey]map[int32]*outcome
	pairs    map[*entry]bool // entries with any of besides
	fine     map[finePlace]*outcome
}

func newWorked() *worked {
	return &worked{combined: map[combination]*outcome{}, besides: map[pairKey]map[int32]*outcome{}, pairs: map[*entry]bool{}, fine: map[finePlace]*outcome{}}
}

// together gives what an entry shows with several causes, nil when it was not
// worked out.
func (k *worked) together(e *entry, places []place) *outcome {
	if k == nil {
		return nil
	}
	k.mu.RLock()
	defer k.mu.RUnlock()
	if o, ok := k.combined[combinationOf(e, places)]; ok {
		return o
	}
	if len(places) != 2 || !k.pairs[e] {
		return nil
	}
	for i := range places {
		if o, ok := k.besides[pairKey{e, places[i].cause}][int32(places[1-i].cause)]; ok {
			return o
		}
	}
	return nil
}

// paired tells whether an entry may show something for two causes although at most
// one of them moves it alone.
func (k *worked) paired(e *entry) bool {
	if k == nil {
		return false
	}
	k.mu.RLock()
	defer k.mu.RUnlock()
	return k.pairs[e]
}

// beside gives the further causes that show, or hide, at an entry beside another.
func (k *worked) beside(e *entry, id int) map[int32]*outcome {
	k.mu.RLock()
	defer k.mu.RUnlock()
	return k.besides[pairKey{e, id}]
}

// finer gives what an entry shows at a place of a cell, nil when it was not worked
// out.
func (k *worked) finer(e *entry, p place) *outcome {
	if k == nil || p.at == 0 {
		return nil
	}
	k.mu.RLock()
	defer k.mu.RUnlock()
	return k.fine[finePlace{e, int32(p.cause), float32(p.at)}]
}

func (k *worked) put(key combination, o *outcome) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.combined[key] = o
}

func (k *worked) putBeside(key pairKey, with map[int32]*outcome) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.besides[key] = with
	k.pairs[key.entry] = k.pairs[key.entry] || len(with) > 0
}

func (k *worked) putFiner(key finePlace, o *outcome) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.fine[key] = o
}
