package postgres

import (
	"context"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/google/uuid"

	"ohmstead/internal/fault"
	"ohmstead/internal/quote"
	"ohmstead/internal/shop"
	"ohmstead/internal/staff"
)

// customerColumns lists a customer's columns; money comes as "12000 EUR".
const customerColumns = `id, name, phone, phone_digits, email,
	standing_limit_minor::text || ' ' || standing_currency AS standing_limit, note, version, created_at, erased_at`

// maxFound bounds a list of customers found.
const maxFound = 20

// FindCustomers finds by phone digits (beginning or last ones, at least three)
// or by the beginnings of words of the name (at least two letters); at most 20.
func (s *Store) FindCustomers(ctx context.Context, query string) (list []shop.Customer, err error) {
	q := shop.ParseQuery(query)
	err = s.reading(ctx, "find customers", func(t *tx) error {
		ids, err := customersFor(ctx, t, q, maxFound)
		if err != nil {
			return err
		}
		list, err = many[shop.Customer](ctx, t, `SELECT `+customerColumns+` FROM customer
			WHERE id = ANY($1) ORDER BY name, id LIMIT $2`, ids, maxFound)
		return err
	})
	return list, err
}

// customersFor gives the keys of the customers whom a query may mean, at most limit.
func customersFor(ctx context.Context, t *tx, q shop.Query, limit int) ([]uuid.UUID, error) {
	var ids []uuid.UUID
	if q.Digits != "" {
		found, err := customersByPhone(ctx, t, q.Digits, limit)
		if err != nil {
			return nil, err
		}
		ids = append(ids, found...)
	}
	if len(q.Words) > 0 {
		found, err := customersByWords(ctx, t, q.Words, limit)
		if err != nil {
			return nil, err
		}
		ids = append(ids, found...)
	}
	return ids[:min(len(ids), limit)], nil
}

// Ranges, not LIKE: a prepared LIKE becomes a scan of the whole table as soon as
// the server takes its generic plan. In collation "C" ':' follows '9'.
const phoneSQL = `(SELECT id FROM customer WHERE phone_digits <> '' AND phone_digits >= $1 AND phone_digits < $1 || ':'
		ORDER BY phone_digits LIMIT $3)
	UNION
	(SELECT id FROM customer WHERE phone_digits <> '' AND reverse(phone_digits) >= $2 AND reverse(phone_digits) < $2 || ':'
		ORDER BY reverse(phone_digits) LIMIT $3)
	LIMIT $3`

// customersByPhone finds by the beginning or the end of a phone number. People
// say a national number with a leading 0 and an international one without; the 0
// is tried both ways.
func customersByPhone(ctx context.Context, t *tx, digits string, limit int) ([]uuid.UUID, error) {
	end := strings.TrimPrefix(digits, "0")
	if end == "" {
		end = digits
	}
	backwards := []byte(end)
	slices.Reverse(backwards)
	return column[uuid.UUID](ctx, t, phoneSQL, digits, string(backwards), limit)
}

// The longest word leads through the index; the others are looked up for each
// customer that it finds.
const wordSQL = `SELECT w.customer_id FROM customer_word w
	WHERE w.word >= $1 AND w.word < $2
	AND NOT EXISTS (SELECT 1 FROM unnest($3::text[], $4::text[]) AS o(lo, hi)
		WHERE NOT EXISTS (SELECT 1 FROM customer_word x
			WHERE x.customer_id = w.customer_id AND x.word >= o.lo AND x.word < o.hi))
	ORDER BY w.word, w.customer_id LIMIT $5`

func customersByWords(ctx context.Context, t *tx, words []string, limit int) ([]uuid.UUID, error) {
	words = slices.Clone(words)
	slices.SortStableFunc(words, func(a, b string) int { return utf8.RuneCountInString(b) - utf8.RuneCountInString(a) })
	words = words[:min(len(words), 5)]
	lead, others := words[0], words[1:]
	ends := make([]string, len(others))
	for i, w := range others {
		ends[i] = pastPrefix(w)
	}
	ids, err := column[uuid.UUID](ctx, t, wordSQL, lead, pastPrefix(lead), others, ends, limit)
	slices.SortFunc(ids, func(a, b uuid.UUID) int { return slices.Compare(a[:], b[:]) })
	return slices.Compact(ids), err
}

// pastPrefix gives what comes after every text that begins with prefix, in
// collation "C".
func pastPrefix(prefix string) string { return prefix + string(utf8.MaxRune) }

// Customer gives one customer.
func (s *Store) Customer(ctx context.Context, id uuid.UUID) (c shop.Customer, err error) {
	err = s.reading(ctx, opf("customer %s", id), func(t *tx) error {
		c, err = customerOf(ctx, t, id, "")
		return err
	})
	return c, err
}

func customerOf(ctx context.Context, t *tx, id uuid.UUID, lock string) (shop.Customer, error) {
	c, err := one[shop.Customer](ctx, t, `SELECT `+customerColumns+` FROM customer WHERE id = $1 `+lock, id)
	return c, missing(err, "There is no such customer.")
}

// SaveCustomer enters a customer (zero ID) or changes one; c.Version is the one
// that was seen, another one in the database is fault.Conflict.
func (s *Store) SaveCustomer(ctx context.Context, by staff.Actor, c shop.Customer) (shop.Customer, error) {
	if err := allowed(by, staff.TakeIn); err != nil {
		return c, err
	}
	if err := c.Check(); err != nil {
		return c, err
	}
	err := s.within(ctx, opf("save customer %s", c.ID), func(t *tx) (err error) {
		if c.ID == uuid.Nil {
			c, err = insertCustomer(ctx, t, c)
			return err
		}
		c, err = updateCustomer(ctx, t, c)
		return err
	})
	return c, err
}

func insertCustomer(ctx context.Context, t *tx, c shop.Customer) (shop.Customer, error) {
	var err error
	if c.ID, err = newID(); err != nil {
		return c, err
	}
	c.Name, c.PhoneDigits = strings.TrimSpace(c.Name), shop.PhoneDigits(c.Phone)
	c.Version, c.CreatedAt = 1, t.now
	minor, code := amount(c.StandingLimit)
	_, err = t.Exec(ctx, `INSERT INTO customer
		(id, name, phone, phone_digits, email, standing_limit_minor, standing_currency, note, version, created_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`,
		c.ID, c.Name, c.Phone, c.PhoneDigits, c.Email, minor, code, c.Note, c.Version, c.CreatedAt)
	if err != nil {
		return c, err
	}
	return c, indexName(ctx, t, c)
}

func updateCustomer(ctx context.Context, t *tx, c shop.Customer) (shop.Customer, error) {
	old, err := customerOf(ctx, t, c.ID, "FOR NO KEY UPDATE")
	switch {
	case err != nil:
		return c, err
	case old.ErasedAt != nil:
		return c, fault.New(fault.Gone, "This customer’s data were erased.")
	case old.Version != c.Version:
		return c, fault.New(fault.Conflict, "Somebody changed this customer in the meantime. Look at the new data, then change again.")
	}
	c.Name, c.PhoneDigits = strings.TrimSpace(c.Name), shop.PhoneDigits(c.Phone)
	c.Version, c.CreatedAt = old.Version+1, old.CreatedAt
	minor, code := amount(c.StandingLimit)
	_, err = t.Exec(ctx, `UPDATE customer SET name = $2, phone = $3, phone_digits = $4, email = $5,
			standing_limit_minor = $6, standing_currency = $7, note = $8, version = $9 WHERE id = $1`,
		c.ID, c.Name, c.Phone, c.PhoneDigits, c.Email, minor, code, c.Note, c.Version)
	if err != nil {
		return c, err
	}
	if _, err := t.Exec(ctx, `DELETE FROM customer_word WHERE customer_id = $1`, c.ID); err != nil {
		return c, err
	}
	return c, indexName(ctx, t, c)
}

// indexName stores the words by which a customer is found.
func indexName(ctx context.Context, t *tx, c shop.Customer) error {
	_, err := t.Exec(ctx, `INSERT INTO customer_word (word, customer_id)
		SELECT w, $2 FROM unnest($1::text[]) AS w`, shop.Words(c.Name), c.ID)
	return err
}

// amount splits money into its two columns, both NULL without money.
func amount(m *quote.Money) (minor *int64, code *string) {
	if m == nil {
		return nil, nil
	}
	return &m.Minor, &m.Currency
}
