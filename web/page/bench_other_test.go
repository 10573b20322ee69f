package page

import (
	"strings"
	"testing"

	"golang.org/x/net/html"

	"ohmstead/internal/analysis"
	"ohmstead/internal/bench"
	"ohmstead/internal/fault"
	"ohmstead/internal/shop"
)

// likeAnother is the fixture after readings that fit revision B better.
func likeAnother(t *testing.T) BenchInput {
	t.Helper()
	in := pumpInput(t)
	own := id(80)
	in.Story.Board.RevisionID = &own
	in.Judged.Sibling = &bench.Sibling{Revision: id(81), Family: "PUMP", Name: "B"}
	in.Judged.Result.Conclusion = analysis.Conclusion{Status: analysis.Conflict, Sibling: "pump-b",
		Why: "The readings fit PUMP B better than PUMP A: look at the printed revision."}
	return in
}

// buttons gives the values and words of a form's buttons.
func buttons(form *html.Node) string {
	var out []string
	for _, b := range pick(form, "button[name=revision]") {
		v, _ := attribute(b, "value")
		out = append(out, v+": "+words(b))
	}
	return strings.Join(out, "; ")
}

// A board that looks like another revision: which one, what to look at, and the form
// that sets it, which claims nothing for whoever presses it.
func TestAnotherRevisionIsNamedAndCanBeSet(t *testing.T) {
	t.Parallel()
	in := likeAnother(t)
	in.Check = "r17"
	doc := benchDoc(t, in)
	accessible(t, "another revision", doc)
	got := words(pick(doc, ".suspects")...)
	for _, want := range []string{"This looks like PUMP B.", "The readings fit PUMP B better than PUMP A: look at the printed revision.", "Set the revision to PUMP B"} {
		if !strings.Contains(got, want) {
			t.Errorf("it does not say %q: %q", want, got)
		}
	}
	form := pick(doc, "form.other-board")
	if len(form) != 1 {
		t.Fatalf("%d forms", len(form))
	}
	if got := buttons(form[0]); got != id(81).String()+": Set the revision to PUMP B; "+id(80).String()+": It is PUMP A" {
		t.Errorf("to press: %q", got)
	}
	for name, want := range map[string]string{"check": "r17", "reason": ""} {
		fields := pick(form[0], "input[name="+name+"]")
		if len(fields) != 1 {
			t.Fatalf("%d fields %s", len(fields), name)
		}
		if v, _ := attribute(fields[0], "value"); v != want {
			t.Errorf("%s is %q, want %q", name, v, want)
		}
	}
	if at, _ := attribute(form[0], "action"); at != "/tickets/2041/bench/revision" {
		t.Errorf("it goes to %q", at)
	}
	if len(pick(benchDoc(t, pumpInput(t)), "form.other-board")) != 0 {
		t.Error("the form is there without another revision")
	}
}

// A refused form comes back with what was typed, also where the readings do not
// (yet) speak for another revision: then the revision is chosen from all.
func TestAnotherRevisionRefused(t *testing.T) {
	t.Parallel()
	in := likeAnother(t)
	in.Form, in.Refused = "revision", fault.Field("reason", "Say why.")
	in.Fields = map[string]string{"reason": "  "}
	doc := benchDoc(t, in)
	accessible(t, "another revision, refused", doc)
	if got := words(pick(doc, ".other-board .problem")...); got != "Say why." {
		t.Errorf("beside the field: %q", got)
	}
	in.Judged.Sibling = nil
	in.Fields = map[string]string{"revision": id(81).String(), "reason": "Printed beside J1 " + strings.Repeat("x", 500)}
	in.Refused = fault.Field("reason", "At most 500 characters.")
	in.Revisions = []shop.Revision{{ID: id(80), FamilyName: "PUMP", Name: "A"}, {ID: id(81), FamilyName: "PUMP", Name: "B"}}
	doc = benchDoc(t, in)
	accessible(t, "another revision, refused, its form gone", doc)
	form := pick(doc, ".unknown form[action=/tickets/2041/bench/revision]")
	if len(form) != 1 || len(pick(doc, "form.other-board")) != 0 {
		t.Fatalf("%d forms", len(form))
	}
	if got := words(pick(form[0], ".problem")...); got != "At most 500 characters." {
		t.Errorf("beside the field: %q", got)
	}
	if v, _ := attribute(pick(form[0], "input[name=reason]")[0], "value"); v != in.Fields["reason"] {
		t.Errorf("the reason typed came back as %q", v)
	}
	if chosen := pick(form[0], "option[selected]"); len(chosen) != 1 || !strings.HasPrefix(words(chosen...), "PUMP B") {
		t.Errorf("chosen: %q", words(chosen...))
	}
}

// Where only one part is as on another revision, the page leads to where the
// revision is corrected.
func TestAPartOfAnotherRevision(t *testing.T) {
	t.Parallel()
	in := pumpInput(t)
	if s := suspectsOf(in); s.Printed != "" {
		t.Errorf("nothing points to another revision, and it leads to %q", s.Printed)
	}
	in.Judged.Result.Conclusion.Alike = "PUMP B"
	doc := benchDoc(t, in)
	if got := words(pick(doc, ".suspects [href=/tickets/2041/correct?field=revision]")...); got != "Correct the revision" {
		t.Errorf("%q", got)
	}
	if len(pick(doc, "form.other-board")) != 0 {
		t.Error("one part does not make another revision")
	}
}
