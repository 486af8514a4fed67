package dossier

import (
	"fmt"
	"math"
)

// Bias says how far all edges of a layer lie off alike in a photograph: focus, and the threshold by which they were found, move
// them together. What is known of it is corrected where sizes are measured, by 2·OutNm each, never in what is drawn; what is
// not known of it makes sizes uncertain.
type Bias struct {
	ID      int64
	Shot    int64
	Layer   string  // by name, whether the stack has it or not
	OutNm   float64 // by how much edges really lie further out of what the layer covers than they were drawn, in nm of the frame; below 0 further in
	SigmaNm float64 // standard uncertainty of that
}

// check returns an error that says what of a bias cannot be kept.
func (b *Bias) check() error {
	if b.Layer == "" {
		return fmt.Errorf("a bias of shot %d is of no layer: name one", b.Shot)
	}
	if !(math.Abs(b.OutNm) <= math.MaxFloat32 && b.SigmaNm >= 0 && b.SigmaNm <= math.MaxFloat32) || b.nothing() {
		return fmt.Errorf("a bias of %g ± %g nm on %s: give a length, or an uncertainty above 0", b.OutNm, b.SigmaNm, b.Layer)
	}
	return nil
}

// nothing reports whether a bias says nothing.
func (b *Bias) nothing() bool { return b.OutNm == 0 && b.SigmaNm == 0 }

// Biases returns the biases of all shots, by shot in the order in which these were added, then by name of the layer.
func (r reads) Biases() ([]Bias, error) {
	return query(r, "SELECT b.id, b.shot, b.layer, b.out_nm, b.sigma_nm FROM bias b JOIN shot s ON s.id = b.shot ORDER BY s.position, s.id, b.layer", func(scan func(...any) error) (b Bias, err error) {
		if err = scan(&b.ID, &b.Shot, &b.Layer, &b.OutNm, &b.SigmaNm); err == nil {
			err = b.check()
		}
		return b, err
	})
}

// SetBias says what is known of the bias of a layer in a shot, instead of what was said before, and sets its ID. One of 0 ± 0
// takes that away.
func (tx *Tx) SetBias(b *Bias) error {
	there, err := query(tx.reads, "SELECT id FROM bias WHERE shot = ? AND layer = ?", func(scan func(...any) error) (id int64, err error) { return id, scan(&id) }, b.Shot, b.Layer)
	if err != nil {
		return err
	}
	old := len(there) > 0
	if old {
		b.ID = there[0]
	}
	if b.nothing() {
		if !old {
			return nil
		}
		return tx.remove("bias", b.ID)
	}
	if err := b.check(); err != nil {
		return err
	}
	if old {
		return tx.update("bias", b.ID, b.Shot, b.Layer, b.OutNm, b.SigmaNm)
	}
	b.ID, err = tx.insert("bias", b.Shot, b.Layer, b.OutNm, b.SigmaNm)
	return err
}

// growBiases makes the biases of a shot longer by a factor, as the uncertainty of what was traced over it grows.
func (tx *Tx) growBiases(shot int64, factor float64) error {
	_, err := tx.exec("UPDATE bias SET out_nm = out_nm * ?1, sigma_nm = sigma_nm * ?1 WHERE shot = ?2", factor, shot)
	return err
}
