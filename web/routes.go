package web

import "net/http"

// route is one line of the table: what, where, for whom.
type route struct {
	method, path   string
	who            access
	do             func(http.ResponseWriter, *http.Request, *visit) error
	beforePassword bool // open also to somebody who must first set a password of their own
}

// routes is the whole application at a glance: every address and who may use it.
// Owners may use every route.
func (s *Server) routes() []route {
	const get, post = http.MethodGet, http.MethodPost
	return []route{
		{get, "/healthz", anyone, s.health, true},
		{get, "/first-start", anyone, s.firstStart, true},
		{post, "/first-start", anyone, s.openShop, true},
		{get, "/sign-in", anyone, s.door, true},
		{post, "/sign-in", anyone, s.signIn, true},
		{post, "/sign-out", everybody, s.signOut, true},
		{get, "/me", everybody, s.me, true},
		{post, "/me", everybody, s.changeOwnPassword, true},
		{get, "/", everybody, s.home, false},

		{get, "/counter", everybody, s.counter, false},
		{get, "/take-in", everybody, s.intake, false},
		{post, "/take-in", everybody, s.takeIn, false},
		{get, "/customers", everybody, s.customers, false},
		{get, "/boards", everybody, s.boards, false},
		{get, "/find", everybody, s.find, false},
		{get, "/marking", everybody, s.marking, false},
		{get, "/tickets/{number}", everybody, s.ticket, false},
		{post, "/tickets/{number}/move", everybody, s.moveTicket, false},
		{get, "/tickets/{number}/correct", everybody, s.correcting, false},
		{post, "/tickets/{number}/correct", everybody, s.correctTicket, false},
		{get, "/tickets/{number}/void", desk, s.voiding, false},
		{post, "/tickets/{number}/void", desk, s.voidTicket, false},
		{get, "/families", everybody, s.families, false},
		{post, "/families", bench, s.saveFamily, false},
		{get, "/families/{revision}", everybody, s.revision, false},

		{get, "/tickets/{number}/quote", everybody, s.quote, false},
		{post, "/tickets/{number}/quote", everybody, s.changeQuote, false},
		{post, "/tickets/{number}/quote/answer", everybody, s.answerQuote, false},
		{get, "/tickets/{number}/quote/{version}", everybody, s.printQuote, false},
		{get, "/tickets/{number}/hand-over", everybody, s.handOver, false},
		{post, "/tickets/{number}/hand-over", everybody, s.giveBack, false},
		{get, "/tickets/{number}/slip/{slip}", everybody, s.printSlip, false},

		{get, "/bench", bench, s.benchBoards, false},
		{get, "/tickets/{number}/bench", bench, s.benchPage, false},
		{get, "/tickets/{number}/bench/state", bench, s.benchState, false},
		{post, "/tickets/{number}/readings", bench, s.readings, false},
		{post, "/tickets/{number}/readings/{reading}/strike", bench, s.strike, false},
		{post, "/tickets/{number}/readings/{reading}/overrule", bench, s.overrule, false},
		{post, "/tickets/{number}/bench/overrule", bench, s.ruleOut, false},
		{post, "/tickets/{number}/bench/overrules/{overrule}/withdraw", bench, s.withdrawOverrule, false},
		{post, "/tickets/{number}/bench/dead", bench, s.proveDead, false},
		{post, "/tickets/{number}/bench/power", bench, s.power, false},
		{post, "/tickets/{number}/bench/seen", bench, s.addSeen, false},
		{post, "/tickets/{number}/bench/findings", bench, s.addFinding, false},
		{post, "/tickets/{number}/bench/findings/{finding}/withdraw", bench, s.withdrawFinding, false},
		{post, "/tickets/{number}/bench/fitted", bench, s.addFitted, false},
		{post, "/tickets/{number}/bench/revision", bench, s.setRevision, false},
		{post, "/tickets/{number}/bench/meter", bench, s.chooseMeter, false},

		{get, "/people", owner, s.people, false},
		{post, "/people", owner, s.addPerson, false},
		{post, "/people/{person}/password", owner, s.resetPassword, false},
		{post, "/people/{person}/role", owner, s.setRole, false},
		{post, "/people/{person}/active", owner, s.setActive, false},
		{get, "/shop", owner, s.shopSettings, false},
		{post, "/shop", owner, s.saveShopSettings, false},
	}
}
