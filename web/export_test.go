package web

import "ohmstead/internal/staff"

// RouteLine is one line of the table of routes, for the test that walks it.
type RouteLine struct {
	Method, Path string
	Anyone       bool
	Roles        []staff.Role // of those signed in
}

// RouteLines gives the table of routes.
func RouteLines() []RouteLine {
	var out []RouteLine
	for _, rt := range (&Server{}).routes() {
		l := RouteLine{Method: rt.method, Path: rt.path, Anyone: rt.who.anyone}
		for _, r := range staff.Roles() {
			if rt.who.admits(r) {
				l.Roles = append(l.Roles, r)
			}
		}
		out = append(out, l)
	}
	return out
}
