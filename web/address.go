package web

import (
	"net"
	"net/http"
)

// addressOf is where a request comes from, as the connection says; headers that
// a client may forge are not believed.
func addressOf(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}
