package bench

import (
	"container/list"
	"crypto/sha256"
	"sync"

	"ohmstead/internal/analysis"
	"ohmstead/internal/fault"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/internal/shop"
)

// Model is one profile version seen through one meter. It is safe for
// concurrent use.
type Model struct {
	Profile *profile.Profile
	Meter   *meter.Meter

	engine *analysis.Model
	weigh  Weigher
	desk   desk
	kin    kin
}

// Weigher works out suspects, next check and conclusion; analysis.Model.Weigh does.
type Weigher func(*analysis.Model, analysis.Case) (*analysis.Result, error)

// NewModel makes the model of a stored profile version.
func NewModel(p shop.Profile, m *meter.Meter) (*Model, error) {
	loaded, err := profile.Load(p.Key+".yaml", p.Flattened, nil)
	if err != nil {
		return nil, fault.Wrap(err, fault.Invalid, "The profile %s cannot be read any more. Readings can still be entered freely.", p.Key)
	}
	return &Model{Profile: loaded, Meter: m, engine: analysis.NewModel(loaded, m), weigh: (*analysis.Model).Weigh}, nil
}

// Models keeps the models that are in use, the least recently used one going
// first when there are too many. The zero value is not usable; see NewModels.
type Models struct {
	// Weigh replaces the engine's own; nil: that one. Set it before the first use.
	Weigh Weigher

	mu    sync.Mutex
	most  int
	byKey map[modelKey]*list.Element
	order *list.List // front: used last
}

// modelKey tells models apart: by what the profile and the meter say, whatever
// they are called.
type modelKey struct {
	profile [sha256.Size]byte
	meter   string
}

// slot is a model that is made once, by whoever asks first; others wait for it.
type slot struct {
	key   modelKey
	once  sync.Once
	model *Model
	err   error
}

// NewModels makes a cache of at most so many models. One holds what its
// profile's expectations cost to compute, some megabytes at most.
func NewModels(most int) *Models {
	return &Models{most: max(most, 1), byKey: map[modelKey]*list.Element{}, order: list.New()}
}

// Of gives the model of a profile version and a meter, made when it is asked for
// the first time.
func (m *Models) Of(p shop.Profile, with *meter.Meter) (*Model, error) {
	s := m.slot(modelKey{profile: sha256.Sum256(p.Flattened), meter: digest(with)})
	s.once.Do(func() {
		s.model, s.err = NewModel(p, with)
		if m.Weigh != nil && s.err == nil {
			s.model.weigh = m.Weigh
		}
	})
	return s.model, s.err
}

// slot finds or makes the place of a model and marks it as used.
func (m *Models) slot(key modelKey) *slot {
	m.mu.Lock()
	defer m.mu.Unlock()
	if e, ok := m.byKey[key]; ok {
		m.order.MoveToFront(e)
		return e.Value.(*slot)
	}
	s := &slot{key: key}
	m.byKey[key] = m.order.PushFront(s)
	for m.order.Len() > m.most {
		oldest := m.order.Back()
		m.order.Remove(oldest)
		delete(m.byKey, oldest.Value.(*slot).key)
	}
	return s
}
