// Package profiles holds the shipped board profiles. All of them are invented
// boards, made to learn and to show Ohmstead on.
package profiles

import "embed"

// Files holds one file a profile, <id>.yaml.
//
//go:embed *.yaml
var Files embed.FS
