package api

import (
	"mime"
	"net/http"
	"path"
	"slices"
	"strings"
)

// safeTypes are the media types that are named to a browser; anything else is bytes.
var safeTypes = []string{"application/pdf", "image/png", "image/jpeg", "image/webp"}

// endings are those that a file of a type may have, the usual one first. Papers of an office are zip archives inside.
var endings = map[string][]string{
	"application/pdf": {".pdf"}, "image/png": {".png"}, "image/jpeg": {".jpg", ".jpeg"}, "image/webp": {".webp"}, "image/gif": {".gif"},
	"text/plain": {".txt", ".csv", ".eml", ".md"}, "application/zip": {".zip", ".docx", ".xlsx", ".odt", ".ods"},
}

// fileName is a title as the name of a file, with an ending that fits what is in it.
func fileName(title, mediaType string) string {
	title = strings.Map(func(r rune) rune {
		if r < ' ' || strings.ContainsRune(`/\:*?"<>|`, r) {
			return '-'
		}
		return r
	}, title)
	kind, _, _ := strings.Cut(mediaType, ";")
	fit, known := endings[kind]
	switch {
	case !known:
		return title + ".bin"
	case slices.Contains(fit, strings.ToLower(path.Ext(title))):
		return title
	}
	return title + fit[0]
}

// fileOf answers with bytes of a media type, to be saved under a title.
func fileOf(title, mediaType string, b []byte) *file {
	named := "application/octet-stream"
	if slices.Contains(safeTypes, mediaType) {
		named = mediaType
	}
	name := mime.FormatMediaType("attachment", map[string]string{"filename": fileName(title, mediaType)})
	return &file{ContentType: named, Disposition: name, Policy: inert, Body: b}
}

// handOut sends a file to a person, to be saved and never opened as a page of ours.
func handOut(w http.ResponseWriter, f *file) error {
	w.Header().Set("Content-Type", f.ContentType)
	w.Header().Set("Content-Disposition", f.Disposition)
	w.Header().Set("Content-Security-Policy", f.Policy)
	_, err := w.Write(f.Body)
	return err
}
