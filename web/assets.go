// SPDX-License-Identifier: Apache-2.0

package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"net/http"
	"path"

	"github.com/labstack/echo/v4"
)

//go:embed assets
var assetFiles embed.FS

//go:embed openapi.yaml
var openAPI []byte

// assetMark changes when any asset changes. It is part of their path, so that
// scripts that import one another always come from one version, and browsers
// may keep them for ever.
var assetMark = markAssets()

func markAssets() string {
	sum := sha256.New()
	err := fs.WalkDir(assetFiles, "assets", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := assetFiles.ReadFile(name)
		fmt.Fprintf(sum, "%s %d\n", name, len(text))
		sum.Write(text)
		return err
	})
	if err != nil {
		panic(err) // embedded files are always there
	}
	return hex.EncodeToString(sum.Sum(nil)[:6])
}

func assetURL(name string) string { return "/assets/" + assetMark + "/" + name }

var assetTypes = map[string]string{
	".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml",
}

// asset answers a file of the pages' own.
func (s *Server) asset(c echo.Context) error {
	name := path.Base(c.Param("name"))
	text, err := assetFiles.ReadFile("assets/" + name)
	if err != nil || assetTypes[path.Ext(name)] == "" {
		return echo.NewHTTPError(http.StatusNotFound)
	}
	keep := "no-cache"
	if c.Param("mark") == assetMark {
		keep = "public, max-age=31536000, immutable"
	}
	c.Response().Header().Set(echo.HeaderCacheControl, keep)
	return c.Blob(http.StatusOK, assetTypes[path.Ext(name)], text)
}
