// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"testing"

	"towpath/web/view"
)

func BenchmarkView(b *testing.B) {
	p := demoSite(b).shop.Picture()
	for b.Loop() {
		view.New(p)
	}
}

func BenchmarkPage(b *testing.B) {
	s := demoSite(b)
	for _, path := range []string{"/floor", "/dates", "/lineup?zoom=week", "/station/W1"} {
		b.Run(path[1:], func(b *testing.B) {
			for b.Loop() {
				s.get(path)
			}
		})
	}
}
