package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"

	"ashbook/api"
	"ashbook/api/demo"
	"ashbook/api/host"
)

func serve(ctx context.Context, k *call) error {
	listen := k.flags.String("listen", "127.0.0.1:8230", "`address` to listen on; the door to other machines is yours to open, behind TLS")
	if err := k.parse(0); err != nil {
		return err
	}
	h, err := k.open(ctx, false)
	if err != nil {
		return err
	}
	defer h.Close()
	login, password, created, err := api.EnsureOwner(ctx, h.Ledger)
	if err != nil {
		return err
	}
	if created {
		fmt.Fprintf(k.out, "first start: sign in as %s with the one-time password %s\n", login, password)
	}
	return k.serveOn(ctx, h, *listen)
}

// serveOn serves until the context or the private database ends.
func (k *call) serveOn(ctx context.Context, h *host.Host, listen string) error {
	ln, err := net.Listen("tcp", listen)
	if err != nil {
		return fmt.Errorf("cannot listen on %s: %w; choose another with --listen", listen, err)
	}
	s, err := api.New(api.Config{Ledger: h.Ledger, Logger: slog.New(slog.NewTextHandler(k.errs, nil)), Insecure: true})
	if err != nil {
		return err
	}
	fmt.Fprintf(k.out, "ashbook is at http://%s\n", ln.Addr())
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	go func() {
		select {
		case <-h.Done():
			stop(errors.New("the private database has stopped; see postgres.log in the data folder, then start again"))
		case <-ctx.Done():
		}
	}()
	if err := s.Serve(ctx, ln); err != nil {
		return err
	}
	if cause := context.Cause(ctx); cause != nil && !errors.Is(cause, context.Canceled) {
		return cause
	}
	return nil
}

func demoWorkshop(ctx context.Context, k *call) error {
	once := k.flags.Bool("once", false, "load, print, and end")
	listen := k.flags.String("listen", "127.0.0.1:0", "`address` to listen on; port 0: any free one")
	if err := k.parse(0); err != nil {
		return err
	}
	if *k.data == "" && *k.database == "" {
		*k.data = filepath.Join(host.DataFolder(), "demo") // never among a shop's own records
	}
	h, err := k.open(ctx, false)
	if err != nil {
		return err
	}
	defer h.Close()
	r, err := demo.Load(ctx, h.URL)
	if err != nil {
		return err
	}
	file := r.LabelCode + ".pdf"
	if *k.data != "" {
		file = filepath.Join(*k.data, file)
	}
	if err := os.WriteFile(file, r.LabelPDF, 0o644); err != nil {
		return fmt.Errorf("write the label: %w", err)
	}
	fmt.Fprint(k.out, r.Text(file))
	v, err := h.Ledger.Verify(ctx)
	if err != nil {
		return err
	}
	fmt.Fprint(k.out, v.Text())
	if *once {
		return nil
	}
	return k.serveOn(ctx, h, *listen)
}
