// SPDX-License-Identifier: Apache-2.0

package web

import (
	"context"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"towpath/web/view"
)

// onTopModel is what was adopted on top of the plant file.
func onTopModel(s *Server, _ echo.Context) (any, error) { return s.view().OnTop(), nil }

// takeOff declares the plant without one of the sets on top of its file.
func (s *Server) takeOff(c echo.Context) error {
	var body AdoptBody
	if err := readBody(c, &body); err != nil {
		return err
	}
	if s.trier == nil {
		return fault(http.StatusNotFound, "not_found", "This shop tries no changes.", "Declare a plant file.")
	}
	ctx, cancel := context.WithTimeout(c.Request().Context(), reportWithin)
	defer cancel()
	out, err := s.trier.TakeOff(ctx, part(c, "set"), body.By)
	if err != nil {
		return err
	}
	s.seen(ctx, out.Seq)
	return c.JSON(http.StatusOK, s.view().OnTop())
}

// withOnTop is the text of the plant file with what stands on top of it told
// behind it, as comments: the file itself stays as it was declared.
func withOnTop(text []byte, x view.OnTop) []byte {
	if len(x.Sets) == 0 {
		return text
	}
	var b strings.Builder
	b.Write(text)
	if !strings.HasSuffix(string(text), "\n") {
		b.WriteByte('\n')
	}
	b.WriteString("\n# Adopted on top of this file and not in it. Whoever declares this file makes the\n# shop go on without these changes; to keep them, write them into the file.\n")
	for i := range x.Sets {
		b.WriteString("#\n")
		for line := range strings.Lines(x.Sets[i].Text) {
			b.WriteString(strings.TrimRight("# "+line, " \n") + "\n")
		}
	}
	return []byte(b.String())
}
