package dossier

import (
	"database/sql"
	"errors"
	"fmt"
	"math"
	"strings"

	"undermetal/layout/shot"
)

// Shot is one photograph of the die after a delayering step.
type Shot struct {
	ID      int64
	Name    string // its own in the dossier
	File    string // the original: its path when it was added
	SHA256  string // of the original, in hexadecimal
	Page    int    // of the original
	Linked  bool   // the original is wanted again at File; else its pyramid stands for it
	Header  shot.Header
	Facts   Facts
	Display shot.Display
	Scale   shot.Scale // NmPerPx 0: not calibrated
	picture int64
}

// Facts are what the user says of a photograph; what is empty or 0 is not known.
type Facts struct {
	Step         string  // what was removed before it was taken, or is on top
	Objective    string  // as it says on it
	NA           float64 // numerical aperture
	WavelengthNm float64
	Illumination string
	CameraUm     float64 // pitch of the camera's pixels
	Taken        string  // date
	Note         string
}

const shotColumns = "id, name, picture, file, sha256, page, linked, width, height, channels, depth, orientation, step, objective, na, wavelength_nm, illumination, " +
	"camera_um, taken, note, low, high, gamma, channel, nm_per_px, sigma_nm_per_px, calibrated"

func scanShot(scan func(...any) error) (s Shot, err error) {
	h, f, d, c := &s.Header, &s.Facts, &s.Display, &s.Scale
	h.Pages = 1
	err = scan(&s.ID, &s.Name, &s.picture, &s.File, &s.SHA256, &s.Page, &s.Linked, &h.Width, &h.Height, &h.Channels, &h.Depth, &h.Orientation, &f.Step, &f.Objective, &f.NA,
		&f.WavelengthNm, &f.Illumination, &f.CameraUm, &f.Taken, &f.Note, &d.Low, &d.High, &d.Gamma, &d.Channel, &c.NmPerPx, &c.Sigma, &c.How)
	if err == nil {
		err = s.check()
	}
	return s, err
}

func (s *Shot) values(position int) []any {
	h, f, d, c := &s.Header, &s.Facts, &s.Display, &s.Scale
	return []any{s.Name, position, s.picture, s.File, s.SHA256, s.Page, s.Linked, h.Width, h.Height, h.Channels, h.Depth, h.Orientation, f.Step, f.Objective, f.NA,
		f.WavelengthNm, f.Illumination, f.CameraUm, f.Taken, f.Note, d.Low, d.High, d.Gamma, d.Channel, c.NmPerPx, c.Sigma, c.How}
}

// check returns an error that says what of a shot cannot be kept.
func (s *Shot) check() error {
	if s.Name == "" || len(s.Name) > 200 || strings.ContainsAny(s.Name, "\n\r\t") {
		return fmt.Errorf("a shot named %q: give a name of 1 to 200 bytes on one line", s.Name)
	}
	if err := s.Header.Check(); err != nil {
		return fmt.Errorf("shot %q: %w", s.Name, err)
	}
	if err := s.Display.Check(s.Header.Channels); err != nil {
		return fmt.Errorf("shot %q: %w", s.Name, err)
	}
	for what, v := range map[string]float64{"numerical aperture": s.Facts.NA, "wavelength": s.Facts.WavelengthNm, "camera pixel": s.Facts.CameraUm, "scale": s.Scale.NmPerPx, "uncertainty": s.Scale.Sigma} {
		if !(v >= 0 && v <= math.MaxFloat32) {
			return fmt.Errorf("shot %q: a %s of %g: give a number above 0", s.Name, what, v)
		}
	}
	return nil
}

// Size is that of the upright photograph, in px.
func (s *Shot) Size() (width, height float64) {
	w, h := s.Header.Orientation.Upright(s.Header.Width, s.Header.Height)
	return float64(w), float64(h)
}

// Shots returns all shots in the order in which they were added.
func (r reads) Shots() ([]Shot, error) {
	return query(r, "SELECT "+shotColumns+" FROM shot ORDER BY position, id", scanShot)
}

// Shot returns the shot of a name.
func (r reads) Shot(name string) (*Shot, error) {
	s, err := one(r, missing("shot %q", name), "SELECT "+shotColumns+" FROM shot WHERE name = ?", scanShot, name)
	return &s, err
}

// AddShot adds a shot with a pyramid that AddTiles has made whole. It sets s.ID.
func (tx *Tx) AddShot(s *Shot, picture int64) error {
	if err := s.check(); err != nil {
		return err
	}
	have, err := tx.count("SELECT count(*) FROM tile WHERE picture = ?", picture)
	if err != nil {
		return err
	}
	if want := tilesOf(s.Header.Width, s.Header.Height); have != want {
		return fmt.Errorf("shot %q: its pyramid has %d tiles of %d", s.Name, have, want)
	}
	if err := tx.nameIsFree(s.Name, 0); err != nil {
		return err
	}
	if _, err := tx.exec("UPDATE picture SET complete = 1 WHERE id = ?", picture); err != nil {
		return err
	}
	position, err := tx.count("SELECT coalesce(max(position), 0) + 1 FROM shot")
	if err != nil {
		return err
	}
	s.picture = picture
	s.ID, err = tx.insert("shot", s.values(position)...)
	return err
}

// nameIsFree returns an error where a shot other than that of the id has the name.
func (tx *Tx) nameIsFree(name string, id int64) error {
	n, err := tx.count("SELECT count(*) FROM shot WHERE name = ? AND id <> ?", name, id)
	if err == nil && n > 0 {
		err = fmt.Errorf("there is a shot %q already: give another name", name)
	}
	return err
}

// SetShot changes what is known of a shot.
func (tx *Tx) SetShot(s *Shot) error {
	if err := errors.Join(s.check(), tx.nameIsFree(s.Name, s.ID)); err != nil {
		return err
	}
	position, err := tx.count("SELECT position FROM shot WHERE id = ?", s.ID)
	if errors.Is(err, sql.ErrNoRows) {
		return missing("shot %d", s.ID)
	}
	if err != nil {
		return err
	}
	return tx.update("shot", s.ID, s.values(position)...)
}

// RemoveShot removes a shot with its control points and registration. What was traced over it stays and forgets it.
func (tx *Tx) RemoveShot(id int64) error { return tx.remove("shot", id) }
