package written

import (
	"fmt"
	"regexp"
	"strings"
)

// Emit writes a tree as YAML that reads back as the same tree. Maps and lists
// that hold only texts are written in one line, as people write parts.
func Emit(n *Node) []byte {
	var b strings.Builder
	emitBlock(&b, n, 0)
	return []byte(b.String())
}

func emitBlock(b *strings.Builder, n *Node, indent int) {
	pad := strings.Repeat("  ", indent)
	switch {
	case n.Kind == Map && len(n.Entries) > 0:
		for _, e := range n.Entries {
			b.WriteString(pad + quote(e.Key) + ":")
			emitValue(b, e.Value, indent+1)
		}
	case n.Kind == List && len(n.Items) > 0:
		for _, item := range n.Items {
			b.WriteString(pad + "-")
			emitValue(b, item, indent+1)
		}
	default:
		b.WriteString(pad + flow(n) + "\n")
	}
}

// emitValue writes what stands after "key:" or "-": in the same line when it is
// flat, as a block below otherwise.
func emitValue(b *strings.Builder, n *Node, indent int) {
	if flat(n, 2) && !(n.Kind == List && holdsMaps(n)) {
		b.WriteString(" " + flow(n) + "\n")
		return
	}
	b.WriteString("\n")
	emitBlock(b, n, indent)
}

// holdsMaps tells whether a list has maps in it: those get a line each.
func holdsMaps(n *Node) bool {
	for _, item := range n.Items {
		if item.Kind == Map {
			return true
		}
	}
	return false
}

// flat tells whether a node has at most this many levels of maps and lists.
func flat(n *Node, levels int) bool {
	if n.Kind == Text || n.Kind == Null || len(n.Entries)+len(n.Items) == 0 {
		return true
	}
	if levels == 0 {
		return false
	}
	for _, e := range n.Entries {
		if !flat(e.Value, levels-1) {
			return false
		}
	}
	for _, item := range n.Items {
		if !flat(item, levels-1) {
			return false
		}
	}
	return true
}

func flow(n *Node) string {
	parts := make([]string, 0, len(n.Entries)+len(n.Items))
	switch n.Kind {
	case Map:
		for _, e := range n.Entries {
			parts = append(parts, quote(e.Key)+": "+flow(e.Value))
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case List:
		for _, item := range n.Items {
			parts = append(parts, flow(item))
		}
		return "[" + strings.Join(parts, ", ") + "]"
	case Null:
		return "null"
	}
	return quote(n.Text)
}

// plain is what needs no quotes in any place of a YAML document.
var plain = regexp.MustCompile(`^[A-Za-z0-9_]([A-Za-z0-9_.+/() -]*[A-Za-z0-9_.+/()%])?$`)

// quote writes a text so that YAML reads the same text.
func quote(s string) string {
	if plain.MatchString(s) && !strings.EqualFold(s, "null") {
		return s
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, c := range s {
		switch {
		case c == '"' || c == '\\':
			b.WriteString(`\` + string(c))
		case c == '\n':
			b.WriteString(`\n`)
		case c == '\t':
			b.WriteString(`\t`)
		case c < ' ':
			fmt.Fprintf(&b, `\x%02x`, c)
		default:
			b.WriteRune(c)
		}
	}
	b.WriteByte('"')
	return b.String()
}
