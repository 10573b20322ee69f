package fault

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
)

func TestKindsAreFoundThroughWrapping(t *testing.T) {
	t.Parallel()
	gone := New(Gone, "Ticket %d was voided.", 7)
	for name, c := range map[string]struct {
		err  error
		kind Kind
		text string
	}{
		"plain":               {io.EOF, Internal, ""},
		"nothing":             {nil, Internal, ""},
		"marked":              {gone, Gone, "Ticket 7 was voided."},
		"wrapped by others":   {fmt.Errorf("postgres: void: %w", gone), Gone, "Ticket 7 was voided."},
		"joined":              {errors.Join(io.EOF, gone), Gone, "Ticket 7 was voided."},
		"the outermost rules": {Wrap(gone, Conflict, "Look again."), Conflict, "Look again."},
	} {
		if got := KindOf(c.err); got != c.kind {
			t.Errorf("%s: kind %d, want %d", name, got, c.kind)
		}
		if got := Text(c.err); c.text != "" && got != c.text {
			t.Errorf("%s: %q, want %q", name, got, c.text)
		}
	}
}

// ASVS 5.0 V16.5.1: what is for the log does not reach the person.
func TestThePersonIsNotToldTheCause(t *testing.T) {
	t.Parallel()
	cause := errors.New("relation person does not exist")
	for _, err := range []error{cause, fmt.Errorf("query: %w", cause), Wrap(cause, Busy, "Try again in a moment.")} {
		if strings.Contains(Text(err), "relation") {
			t.Errorf("the person is told %q", Text(err))
		}
		if !strings.Contains(err.Error(), "relation") || !errors.Is(err, cause) {
			t.Errorf("the log is not told the cause: %v", err)
		}
	}
	if Wrap(nil, Busy, "x") != nil {
		t.Error("nothing was wrapped into an error")
	}
}

func TestMessagesByField(t *testing.T) {
	t.Parallel()
	one := Field("name", "Use at most %d characters.", 80)
	if KindOf(one) != Invalid || Fields(one)["name"] != one.Text {
		t.Errorf("%+v", one)
	}
	if err := Form(nil); err != nil {
		t.Errorf("a form without problems: %v", err)
	}
	single := Form(map[string]string{"name": "Enter a name."})
	if Text(single) != "Enter a name." || KindOf(single) != Invalid {
		t.Errorf("%v", single)
	}
	two := fmt.Errorf("check: %w", Form(map[string]string{"name": "Enter a name.", "role": "Choose."}))
	if len(Fields(two)) != 2 || Text(two) == "Enter a name." {
		t.Errorf("%v, %v", Fields(two), two)
	}
	if Fields(io.EOF) != nil {
		t.Error("a plain error has fields")
	}
}
