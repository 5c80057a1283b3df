package api

import (
	"net/http"
	"net/url"

	"ashbook/api/pages"
)

func signInForm(next string) *pages.Form {
	return pages.NewForm("sign-in", signInPath+"?next="+url.QueryEscape(next), "Sign in",
		pages.In(pages.LoginBox, "login", "Name to sign in with", "").Must(),
		pages.In(pages.OnePass, "password", "Password", "").Must())
}

func (s *Server) getSignIn(w http.ResponseWriter, r *http.Request) error {
	next := localPath(r.URL.Query().Get("next"))
	if s.actor(r.Context()).ID != 0 {
		http.Redirect(w, r, next, http.StatusSeeOther)
		return nil
	}
	b, err := s.base(r, "Sign in")
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, &pages.SignIn{Base: b, Form: signInForm(next)})
}

func (s *Server) postSignIn(w http.ResponseWriter, r *http.Request) error {
	next := localPath(r.URL.Query().Get("next"))
	in, err := s.read(r, signInForm(next))
	if err != nil {
		return err
	}
	page := func() (pages.Page, error) {
		b, err := s.base(r, "Sign in")
		return &pages.SignIn{Base: b, Form: in.form}, err
	}
	return in.do(w, page, func() (string, string, error) {
		return next, "", s.signIn(r, in.text("login"), r.PostForm.Get("password"))
	})
}

func signOutForm() *pages.Form { return pages.NewForm("sign-out", "/sign-out", "Sign out") }

func (s *Server) postSignOut(w http.ResponseWriter, r *http.Request) error {
	if err := s.signOut(r.Context()); err != nil {
		return err
	}
	http.Redirect(w, r, signInPath, http.StatusSeeOther)
	return nil
}

func (s *Server) getMore(w http.ResponseWriter, r *http.Request) error {
	b, err := s.base(r, "More")
	if err != nil {
		return err
	}
	b.Leave = signOutForm()
	return show(w, http.StatusOK, &pages.More{Base: b})
}

func passwordForm() *pages.Form {
	return pages.NewForm("password", passwordPath, "Set the password",
		pages.In(pages.OnePass, "old", "Present password", "").Must(),
		pages.In(pages.Secret, "password", "New password", "At least 12 characters. Four words that have nothing to do with each other are good.").Must(),
		pages.In(pages.Secret, "repeated", "New password once more", "").Must())
}

func (s *Server) passwordPage(r *http.Request, form *pages.Form) (pages.Page, error) {
	b, err := s.base(r, "Your password")
	if err != nil {
		return nil, err
	}
	return &pages.Password{Base: b, Must: identityOf(r.Context()).mustChange, Form: form}, nil
}

func (s *Server) getPassword(w http.ResponseWriter, r *http.Request) error {
	p, err := s.passwordPage(r, passwordForm())
	if err != nil {
		return err
	}
	return show(w, http.StatusOK, p)
}

func (s *Server) postPassword(w http.ResponseWriter, r *http.Request) error {
	in, err := s.read(r, passwordForm())
	if err != nil {
		return err
	}
	plain := r.PostForm.Get("password")
	if plain != r.PostForm.Get("repeated") {
		in.form.Blame("repeated", "differs from the line above; type both again")
	}
	page := func() (pages.Page, error) { return s.passwordPage(r, in.form) }
	return in.do(w, page, func() (string, string, error) {
		return "/", "The password is set. Other places where you were signed in are signed out.", s.changePassword(r, r.PostForm.Get("old"), plain)
	})
}
