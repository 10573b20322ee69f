package web

import (
	"slices"

	"ohmstead/internal/staff"
)

// access says who may use a route.
type access struct {
	anyone bool         // also without signing in
	roles  []staff.Role // who of those signed in; owners may use every route
}

var (
	anyone    = access{anyone: true}
	everybody = access{roles: []staff.Role{staff.FrontDesk, staff.Bench}}
	desk      = access{roles: []staff.Role{staff.FrontDesk}}
	bench     = access{roles: []staff.Role{staff.Bench}}
	owner     = access{}
)

// admits tells whether somebody of this role may use the route.
func (a access) admits(r staff.Role) bool {
	return a.anyone || r == staff.Owner || slices.Contains(a.roles, r)
}
