package postgres

import (
	"testing"

	"ohmstead/internal/shop"
)

func TestWholeWay(t *testing.T) {
	w := newWorld(t)
	k := w.takeIn()
	k = w.move(k, shop.OnShelf, shop.OnBench, shop.OnSoak, shop.ToHandOver)
	d, err := w.HandOver(t.Context(), w.desk, k.ID, k.Version, shop.HandOver{As: shop.HandedOver, To: "Orla Fenwick", Text: "R12 replaced"})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%s", d.Content)
	st := w.story(k)
	t.Logf("%+v", st.Ticket)
}
