package analysis

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"ohmstead/internal/profile"
	"ohmstead/internal/quantity"
	"ohmstead/internal/written"
)

// Limits of a readings file.
const (
	maxReadingsBytes = 1 << 20
	maxReadings      = 500 // several times what a bench takes of one board; the time grows with their cube
)

// columns are the columns that a readings file may have.
var columns = []string{
	"check", "state", "measure", "red", "black", "across", "lifted", "swapped", "reading", "moving", "residue", "fitted",
}

// ReadReadings reads a CSV file of readings taken on a board of the profile. The
// first row names the columns. name is for messages. The error is
// written.Errors: everything found wrong, each with file, line and column.
func ReadReadings(name string, src io.Reader, p *profile.Profile) ([]Reading, error) {
	text, err := io.ReadAll(io.LimitReader(src, maxReadingsBytes+1))
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	s := sheet{file: name, profile: p}
	s.read(text)
	if err := s.errs.Err(); err != nil {
		return nil, err
	}
	return s.readings, nil
}

// sheet is a readings file being read.
type sheet struct {
	file     string
	profile  *profile.Profile
	lines    []string
	csv      *csv.Reader
	header   []string
	readings []Reading
	errs     written.Errors
}

func (s *sheet) read(text []byte) {
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	switch {
	case len(text) > maxReadingsBytes:
		s.errs.Add(s.at(1, 1), "", "the file is too large", fmt.Sprintf("at most %d bytes", maxReadingsBytes))
		return
	case !utf8.Valid(text):
		s.errs.Add(s.at(1, 1), "", "the file is not text", "UTF-8")
		return
	}
	s.lines = strings.Split(string(text), "\n")
	s.csv = csv.NewReader(bytes.NewReader(text))
	s.csv.FieldsPerRecord = -1
	for first := true; ; first = false {
		cells, err := s.csv.Read()
		switch {
		case err == io.EOF && first:
			s.errs.Add(s.at(1, 1), "", "the file is empty", "a header row such as state,measure,red,black,across,lifted,reading")
			return
		case err == io.EOF:
			return
		case err != nil:
			s.broken(err)
			return
		case first && !s.heading(cells):
			return
		case !first:
			s.row(cells)
		}
		if len(s.readings) > maxReadings {
			s.errs.Add(s.cell(0), "", "too many readings", fmt.Sprintf("at most %d", maxReadings))
			return
		}
	}
}

func (s *sheet) at(line, column int) written.Position {
	return written.Position{File: s.file, Line: line, Column: column}
}

// cell gives the place of a cell of the row just read, in characters.
func (s *sheet) cell(i int) written.Position {
	line, column := s.csv.FieldPos(i)
	if line <= len(s.lines) && column-1 <= len(s.lines[line-1]) {
		column = utf8.RuneCountInString(s.lines[line-1][:column-1]) + 1
	}
	return s.at(line, column)
}

// broken tells of quotes that do not close and the like.
func (s *sheet) broken(err error) {
	var e *csv.ParseError
	if !errors.As(err, &e) {
		s.errs.Add(s.at(1, 1), "", "not CSV: "+err.Error(), "")
		return
	}
	s.errs.Add(s.at(e.Line, max(e.Column, 1)), "", "not CSV: "+e.Err.Error(), "")
}

// heading reads the first row.
func (s *sheet) heading(cells []string) bool {
	before := len(s.errs)
	for i, c := range cells {
		c = strings.TrimSpace(c)
		switch {
		case !slices.Contains(columns, c):
			s.errs.Add(s.cell(i), c, "an unknown column", "a header row with "+strings.Join(columns, ", ")+", separated by commas")
		case slices.Contains(s.header, c):
			s.errs.Add(s.cell(i), c, "a column that is there twice", "")
		}
		s.header = append(s.header, c)
	}
	return len(s.errs) == before
}

// row is the cells of one row by column.
type row struct {
	sheet *sheet
	cells map[string]string
	place map[string]written.Position
	start written.Position
}

func (s *sheet) row(cells []string) {
	r := row{sheet: s, cells: map[string]string{}, place: map[string]written.Position{}, start: s.cell(0)}
	for i, c := range cells {
		if c = strings.TrimSpace(c); c == "" {
			continue
		}
		if i >= len(s.header) {
			s.errs.Add(s.cell(i), c, "more cells than the header has columns", "quotes around a value with a decimal comma")
			return
		}
		r.cells[s.header[i]], r.place[s.header[i]] = c, s.cell(i)
	}
	if len(r.cells) == 0 {
		return
	}
	before := len(s.errs)
	reading := r.reading()
	if len(s.errs) == before {
		s.readings = append(s.readings, reading)
	}
}

// wrong keeps an error at a cell, or at the start of the row when it is empty.
func (r row) wrong(column, problem, expected string) {
	at, ok := r.place[column]
	if !ok {
		at = r.start
	}
	r.sheet.errs.Add(at, r.cells[column], problem, expected)
}

func (r row) reading() Reading {
	out := Reading{Line: r.start.Line, Fitted: r.fitted(), Moving: r.moving(), Residue: r.residue()}
	bare := true
	for _, c := range columns[:9] { // what a row that only fits a part leaves empty
		bare = bare && r.cells[c] == ""
	}
	if bare && out.Fitted != "" {
		return out
	}
	before := len(r.sheet.errs)
	if out.Check = r.check(); len(r.sheet.errs) > before {
		return out
	}
	switch text := r.cells["reading"]; text {
	case "":
		r.wrong("reading", "reading is missing", "a value, OL, or - where the check cannot be made")
	case "-":
		out.NotPossible = true
	default:
		v, err := quantity.Parse(text, out.Check.Measure.Unit())
		if e := new(quantity.Error); errors.As(err, &e) {
			r.wrong("reading", e.Problem, e.Expected+", or OL, or -")
		}
		out.Value = v
	}
	return out
}

func (r row) fitted() string {
	ref := r.cells["fitted"]
	if _, ok := r.sheet.profile.Part(ref); ref != "" && !ok && len(r.sheet.profile.Parts) > 0 {
		r.wrong("fitted", "no such part", "a designator of the profile")
	}
	return ref
}

func (r row) moving() Moving {
	m := Moving(r.cells["moving"])
	if m != Still && m != MovingUp && m != MovingDown {
		r.wrong("moving", "not a way to creep", "up, down or nothing")
	}
	return m
}

func (r row) residue() *float64 {
	text := r.cells["residue"]
	if text == "" {
		return nil
	}
	v, err := quantity.Parse(text, quantity.Volt)
	if e := new(quantity.Error); errors.As(err, &e) {
		r.wrong("residue", e.Problem, e.Expected)
	} else if v.OverRange {
		r.wrong("residue", "a residue is a number", quantity.Expected(quantity.Volt))
	}
	return &v.Number
}

// yes reads a column that says yes or nothing.
func (r row) yes(column string) bool {
	switch r.cells[column] {
	case "yes":
		return true
	case "", "no":
		return false
	}
	r.wrong(column, column+" is a yes or no", "yes or nothing")
	return false
}

// check finds what was measured: as the row says, or as the profile's check
// says that it names.
func (r row) check() profile.Check {
	c := profile.Check{
		State: r.cells["state"], Measure: profile.Measure(r.cells["measure"]),
		Across: r.cells["across"], Red: r.cells["red"], Black: r.cells["black"],
		Lifted: r.yes("lifted"), Swapped: r.yes("swapped"),
	}
	if id := r.cells["check"]; id != "" {
		known, ok := r.sheet.profile.Check(id)
		if !ok {
			r.wrong("check", "no check of this id", "the id of a check of the profile")
			return c
		}
		c = r.named(*known, c)
	}
	for _, need := range []string{"state", "measure"} {
		if r.cells[need] == "" && r.cells["check"] == "" {
			r.wrong(need, need+" is missing", "")
			return c
		}
	}
	c, err := r.sheet.profile.Resolve(c)
	if e := new(profile.CheckError); errors.As(err, &e) {
		r.wrong(e.Field, e.Problem, e.Expected)
	}
	return c
}

// named gives the profile's check, lifted or swapped where the row says so;
// anything else that the row says must agree with it, a place by its node.
func (r row) named(known, row profile.Check) profile.Check {
	differs := func(column, value string) { r.wrong(column, "the check "+known.ID+" says otherwise", value) }
	for _, x := range []struct{ column, value string }{{"state", known.State}, {"measure", string(known.Measure)}, {"across", known.Across}} {
		if said := r.cells[x.column]; said != "" && said != x.value {
			differs(x.column, x.value)
		}
	}
	for _, x := range []struct{ column, place, node string }{{"red", known.Red, known.RedNode}, {"black", known.Black, known.BlackNode}} {
		said := r.cells[x.column]
		if node, _ := r.sheet.profile.Node(said); said != "" && node != x.node {
			differs(x.column, cmp.Or(x.place, x.node))
		}
	}
	for _, x := range []struct {
		column string
		is     bool
	}{{"lifted", known.Lifted}, {"swapped", known.Swapped}} {
		if x.is && r.cells[x.column] == "no" {
			differs(x.column, "yes or nothing")
		}
	}
	if row.Lifted && !known.Lifted || row.Swapped && !known.Swapped {
		known.ID, known.Minutes = "", 0 // another check: Resolve finds it, if the profile has it
		known.Lifted, known.Swapped = known.Lifted || row.Lifted, known.Swapped || row.Swapped
	}
	return known
}
