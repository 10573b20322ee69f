package written

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// Limits of a document. They are far above what a board needs and keep a
// malicious file from costing more than a moment: MaxNodes counts what aliases
// expand to.
const (
	MaxBytes  = 512 << 10
	MaxTokens = 60_000
	MaxNodes  = 60_000
	MaxDepth  = 12
	MaxText   = 4000 // characters in one text
)

// YAML reads one document. Anchors and aliases are understood and count as
// often as they are used; merge keys, tags and several documents are refused.
// The error is Errors.
func YAML(file string, src []byte) (root *Node, err error) {
	r := &reader{file: file, anchors: map[string]ast.Node{}}
	defer func() {
		if p := recover(); p != nil { // a bug of the parser must not take the shop down
			r.errs = nil
			r.errs.Add(r.at(1, 1), "", "this file cannot be read as YAML", "")
			root, err = nil, r.errs.Err()
		}
	}()
	body := r.parse(src)
	if len(r.errs) > 0 {
		return nil, r.errs.Err()
	}
	root = r.node(body, 1)
	if err := r.errs.Err(); err != nil {
		return nil, err
	}
	return root, nil
}

type reader struct {
	file    string
	anchors map[string]ast.Node
	open    []string // aliases being expanded
	nodes   int
	full    bool // a limit was met: say it once
	errs    Errors
}

func (r *reader) at(line, column int) Position {
	return Position{File: r.file, Line: line, Column: column}
}

func (r *reader) place(t *token.Token) Position {
	if t == nil || t.Position == nil {
		return r.at(1, 1)
	}
	return r.at(max(t.Position.Line, 1), max(t.Position.Column, 1))
}

// parse checks the limits that protect the parser itself and gives the body of
// the only document.
func (r *reader) parse(src []byte) ast.Node {
	src = bytes.TrimPrefix(src, []byte("\ufeff"))
	if len(src) > MaxBytes {
		r.errs.Add(r.at(1, 1), "", fmt.Sprintf("the file has %d bytes, more than %d", len(src), MaxBytes), "")
		return nil
	}
	if p, bad := badCharacter(src); bad {
		p.File = r.file
		r.errs.Add(p, "", "a character that is not text", "UTF-8 without control characters")
		return nil
	}
	tokens := lexer.Tokenize(string(src))
	if !r.shallow(tokens) {
		return nil
	}
	f, err := parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		r.syntax(err)
		return nil
	}
	var body ast.Node
	for _, d := range f.Docs {
		switch {
		case d.Body == nil:
		case body != nil:
			r.errs.Add(r.place(d.Body.GetToken()), "", "a second document in one file", "one document")
			return nil
		default:
			body = d.Body
		}
	}
	if body == nil {
		r.errs.Add(r.at(1, 1), "", "the file is empty", "")
	}
	return body
}

// shallow bounds the number of tokens and the nesting before the recursive
// parser sees them. Block nesting on one line ("- - - x") is counted too; over
// several lines it is bounded by the size of the file.
func (r *reader) shallow(tokens token.Tokens) bool {
	if len(tokens) > MaxTokens {
		r.errs.Add(r.place(tokens[MaxTokens]), "", "the file has too much in it", fmt.Sprintf("at most %d words and marks", MaxTokens))
		return false
	}
	depth, line, inLine := 0, 0, 0
	for _, t := range tokens {
		if t.Position.Line != line {
			line, inLine = t.Position.Line, 0
		}
		switch t.Type {
		case token.MappingStartType, token.SequenceStartType:
			depth++
		case token.MappingEndType, token.SequenceEndType:
			depth--
		case token.SequenceEntryType, token.MappingKeyType, token.TagType, token.AnchorType:
			inLine++
		case token.InvalidType:
			r.errs.Add(r.place(t), "", "not YAML: "+oneLine(t.Error), "")
			return false
		}
		if depth > MaxDepth || inLine > 10*MaxDepth || t.Type == token.SequenceEntryType && inLine > MaxDepth {
			r.tooDeep(r.place(t))
			return false
		}
	}
	return true
}

func (r *reader) tooDeep(at Position) {
	r.errs.Add(at, "", "nested too deeply", fmt.Sprintf("at most %d levels", MaxDepth))
	r.full = true
}

// syntax keeps what the YAML parser says, in one line.
func (r *reader) syntax(err error) {
	e, ok := err.(interface {
		GetToken() *token.Token
		GetMessage() string
	})
	if !ok {
		r.errs.Add(r.at(1, 1), "", "not YAML: "+oneLine(err.Error()), "")
		return
	}
	r.errs.Add(r.place(e.GetToken()), "", "not YAML: "+oneLine(e.GetMessage()), "")
}

func oneLine(s string) string {
	return strings.Join(strings.Fields(s), " ")
}

// node copies one YAML node and what is below it.
func (r *reader) node(n ast.Node, depth int) *Node {
	out := &Node{Position: r.at(1, 1), Kind: Null}
	if n == nil {
		return out
	}
	out.Position = r.place(n.GetToken())
	if r.nodes++; r.nodes > MaxNodes && !r.full {
		r.errs.Add(out.Position, "", "the file says too much", fmt.Sprintf("at most %d values, aliases expanded", MaxNodes))
		r.full = true
	}
	if depth > MaxDepth && !r.full {
		r.tooDeep(out.Position)
	}
	if r.full {
		return out
	}
	switch v := n.(type) {
	case *ast.MappingNode:
		r.mapping(out, v.Values, depth)
	case *ast.MappingValueNode:
		r.mapping(out, []*ast.MappingValueNode{v}, depth)
	case *ast.SequenceNode:
		out.Kind = List
		for _, item := range v.Values {
			out.Items = append(out.Items, r.node(item, depth+1))
		}
	case *ast.AnchorNode:
		r.anchors[v.Name.GetToken().Value] = v.Value
		return r.node(v.Value, depth)
	case *ast.AliasNode:
		return r.alias(v, depth)
	case *ast.NullNode:
	case *ast.LiteralNode:
		r.text(out, v.Value.Value)
	case *ast.StringNode, *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		r.text(out, n.GetToken().Value)
	default:
		r.errs.Add(out.Position, n.GetToken().Value, "this part of YAML is not used here", "texts, lists and maps")
	}
	return out
}

func (r *reader) text(out *Node, s string) {
	out.Kind, out.Text = Text, s
	if utf8.RuneCountInString(s) > MaxText {
		r.errs.Add(out.Position, s, "too long", fmt.Sprintf("at most %d characters", MaxText))
	}
	if _, bad := badCharacter([]byte(s)); bad { // an escape in double quotes
		r.errs.Add(out.Position, s, "a character that is not text", "no control characters")
	}
}

func (r *reader) mapping(out *Node, values []*ast.MappingValueNode, depth int) {
	out.Kind = Map
	if len(values) > 0 {
		out.Position = r.place(values[0].Key.GetToken())
	}
	seen := map[string]Position{}
	for _, v := range values {
		at := r.place(v.Key.GetToken())
		key, ok := r.key(v.Key, at)
		if !ok {
			continue
		}
		if before, dup := seen[key]; dup {
			r.errs.Add(at, key, fmt.Sprintf("stands here twice, first in line %d", before.Line), "")
			continue
		}
		seen[key] = at
		out.Entries = append(out.Entries, Entry{Position: at, Key: key, Value: r.node(v.Value, depth+1)})
	}
}

func (r *reader) key(k ast.MapKeyNode, at Position) (string, bool) {
	switch k.(type) {
	case *ast.MergeKeyNode:
		r.errs.Add(at, "<<", "merge keys are not used here", "based_on for what two boards share")
		return "", false
	case *ast.StringNode, *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
	default:
		r.errs.Add(at, k.GetToken().Value, "not a key", "a text")
		return "", false
	}
	probe := &Node{Position: at}
	before := len(r.errs)
	r.text(probe, k.GetToken().Value)
	return probe.Text, len(r.errs) == before
}

// alias expands one alias in place: its values stand where it stands.
func (r *reader) alias(a *ast.AliasNode, depth int) *Node {
	at := r.place(a.GetToken())
	name := a.Value.GetToken().Value
	target, ok := r.anchors[name]
	if !ok {
		r.errs.Add(at, "*"+name, "no anchor of this name stands before it", "")
		return &Node{Position: at, Kind: Null}
	}
	for _, o := range r.open {
		if o == name {
			r.errs.Add(at, "*"+name, "an alias inside its own anchor", "")
			return &Node{Position: at, Kind: Null}
		}
	}
	r.open = append(r.open, name)
	defer func() { r.open = r.open[:len(r.open)-1] }()
	return r.node(target, depth)
}

// badCharacter finds the first byte that is not UTF-8, or a control character
// that no text has.
func badCharacter(src []byte) (Position, bool) {
	line, column := 1, 1
	for len(src) > 0 {
		c, size := utf8.DecodeRune(src)
		switch {
		case c == '\n':
			line, column = line+1, 0
		case c == '\t' || c == '\r':
		case c == utf8.RuneError && size == 1, c < ' ', c >= 0x7f && c < 0xa0, c == 0xfeff, c == 0x2028, c == 0x2029:
			return Position{Line: line, Column: column}, true
		}
		src = src[size:]
		column++
	}
	return Position{}, false
}
