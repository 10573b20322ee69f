package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"ohmstead/internal/analysis"
	"ohmstead/internal/fault"
	"ohmstead/internal/meter"
	"ohmstead/internal/profile"
	"ohmstead/profiles"
)

// diagnosis is what `ohmstead diagnose` was asked.
type diagnosis struct {
	profile  string // path, id of a shipped profile, or -
	readings string // path or -, empty: none
	meter    string // path, id of a shipped meter, or -
	code     string
	json     bool

	stdin io.Reader
	used  bool // standard input was read
}

// inputError marks what is wrong with the input: exit status 2.
type inputError struct{ error }

// Unwrap gives what is wrong.
func (e inputError) Unwrap() error { return e.error }

// runDiagnose judges a file of readings against a board profile. It needs no
// database and no network. It returns the exit status: 0 answered, 2 the input
// is wrong, 1 the answer could not be computed or written.
func runDiagnose(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	d := diagnosis{stdin: stdin}
	if err := d.parse(args, stderr); err != nil {
		return badFlags(err)
	}
	var out bytes.Buffer
	if err := d.run(&out, style{colour: isTerminal(stdout)}); err != nil {
		fmt.Fprintln(stderr, said(err))
		if errors.As(err, new(inputError)) || fault.KindOf(err) == fault.Invalid {
			return exitUsage
		}
		return exitFailed
	}
	if _, err := out.WriteTo(stdout); err != nil {
		fmt.Fprintln(stderr, err)
		return exitFailed
	}
	return exitOK
}

// said is what a person reads of an error.
func said(err error) string {
	var e *fault.Error
	if errors.As(err, &e) {
		return e.Text
	}
	return err.Error()
}

// parse reads the flags.
func (d *diagnosis) parse(args []string, stderr io.Writer) error {
	f := flag.NewFlagSet("diagnose", flag.ContinueOnError)
	f.SetOutput(stderr)
	f.StringVar(&d.profile, "profile", "", "board profile: a `FILE`, the id of a shipped one, or - for standard input")
	f.StringVar(&d.readings, "readings", "", "readings: a CSV `FILE`, or - for standard input")
	f.StringVar(&d.meter, "meter", meter.DefaultID, "meter: a `FILE`, the id of a shipped one, or -")
	f.StringVar(&d.code, "code", "", "what the board shows: the `CODE` of an indication, or none; left out: not known")
	f.BoolVar(&d.json, "json", false, "answer with one JSON object")
	f.Usage = func() {
		fmt.Fprintln(stderr, "ohmstead diagnose --profile FILE [--readings FILE] [--code CODE] [--meter FILE] [--json]")
		f.PrintDefaults()
	}
	if err := f.Parse(args); err != nil {
		return err
	}
	var problem string
	switch given := visited(f); {
	case f.NArg() > 0:
		problem = fmt.Sprintf("%q is not understood; every file has its flag", f.Arg(0))
	case d.profile == "":
		problem = "say which board: --profile"
	case given["code"] && d.code == "":
		problem = "--code is empty: leave it out when it is not known, say none when nothing is shown"
	default:
		return nil
	}
	fmt.Fprintln(stderr, problem)
	f.Usage()
	return inputError{errors.New(problem)}
}

// visited gives the flags that were typed.
func visited(f *flag.FlagSet) map[string]bool {
	given := map[string]bool{}
	f.Visit(func(f *flag.Flag) { given[f.Name] = true })
	return given
}

// run answers into out.
func (d *diagnosis) run(out io.Writer, s style) error {
	p, err := d.loadProfile()
	if err != nil {
		return inputError{err}
	}
	m, err := d.loadMeter()
	if err != nil {
		return inputError{err}
	}
	readings, err := d.loadReadings(p)
	if err != nil {
		return inputError{err}
	}
	result, err := analysis.Diagnose(p, m, readings, d.code, d.siblings(p)...)
	if err != nil {
		return err
	}
	if !d.json {
		return s.write(out, p, m, result)
	}
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(result)
}

// open reads a file, or standard input for "-".
func (d *diagnosis) open(path string) ([]byte, error) {
	if path != "-" {
		return os.ReadFile(path)
	}
	if d.used {
		return nil, errors.New("only one file can be read from standard input")
	}
	d.used = true
	return io.ReadAll(d.stdin)
}

// loadProfile reads a profile by id or path. What it is based on is looked up
// beside it; for standard input, among the shipped ones.
func (d *diagnosis) loadProfile() (*profile.Profile, error) {
	shipped := profile.NewLibrary(profiles.Files, "profiles")
	switch p, err := shipped.Load(d.profile); {
	case err == nil:
		return p, nil
	case !errors.Is(err, fs.ErrNotExist):
		return nil, err
	}
	if d.profile != "-" {
		p, err := profile.LoadFile(d.profile)
		if errors.Is(err, fs.ErrNotExist) && !strings.ContainsRune(d.profile, filepath.Separator) {
			ids, _ := shipped.IDs()
			return nil, fmt.Errorf("no file and no shipped profile %q; shipped are %s", d.profile, strings.Join(ids, ", "))
		}
		return p, err
	}
	src, err := d.open("-")
	if err != nil {
		return nil, err
	}
	return profile.Load("standard input", src, shipped.Source)
}

// siblings gives the revisions that the board might be instead: those beside the
// profile's file, or shipped.
func (d *diagnosis) siblings(p *profile.Profile) []*profile.Profile {
	library := profile.NewLibrary(profiles.Files, "profiles")
	if dir := filepath.Dir(p.File); p.File != "" && filepath.Ext(d.profile) == ".yaml" {
		library = profile.NewLibrary(os.DirFS(dir), dir)
	}
	return library.Siblings(p)
}

// loadMeter reads a meter by id or path.
func (d *diagnosis) loadMeter() (*meter.Meter, error) {
	m, err := meter.Shipped(d.meter)
	if fault.KindOf(err) != fault.NotFound {
		return m, err
	}
	src, err := d.open(d.meter)
	if err != nil {
		return nil, err
	}
	return meter.Load(d.meter, src)
}

// loadReadings reads the readings, none without --readings.
func (d *diagnosis) loadReadings(p *profile.Profile) ([]analysis.Reading, error) {
	if d.readings == "" {
		return nil, nil
	}
	src, err := d.open(d.readings)
	if err != nil {
		return nil, err
	}
	return analysis.ReadReadings(d.readings, bytes.NewReader(src), p)
}
