package dossier

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"

	"undermetal/layout/shot"
)

// The bits of a tile's id: a level has at most 2^10 tiles a side, since shot.MaxSide is 2^18 and a tile has 2^8.
const rowBits, levelBits, pictureBits = 10, 20, 24

func tileID(picture int64, level, column, row int) int64 {
	return picture<<pictureBits | int64(level)<<levelBits | int64(row)<<rowBits | int64(column)
}

// NewPicture makes room for a pyramid. It belongs to no shot yet, and is cleared away when the dossier is opened the next
// time, unless AddShot takes it.
func (d *Dossier) NewPicture(ctx context.Context) (picture int64, err error) {
	err = d.write(ctx, func(tx *Tx) error {
		res, err := tx.exec("INSERT INTO picture (complete) VALUES (0)")
		if err == nil {
			picture, err = res.LastInsertId()
		}
		return err
	})
	return picture, err
}

// AddTiles adds tiles to a pyramid that no shot has yet. They are outside the journal.
func (d *Dossier) AddTiles(ctx context.Context, picture int64, tiles []shot.Tile) error {
	return d.write(ctx, func(tx *Tx) error {
		for _, t := range tiles {
			if _, err := tx.exec("INSERT INTO tile (id, picture, data) VALUES (?, ?, ?)", tileID(picture, t.Level, t.Column, t.Row), picture, t.Data); err != nil {
				return err
			}
		}
		return nil
	})
}

// pieceBytes is how long a piece of an original is.
const pieceBytes = 1 << 20

// AddOriginal keeps the file that a pyramid came from, beside it, and returns its SHA-256 in hexadecimal. progress hears
// how many bytes are done.
func (d *Dossier) AddOriginal(ctx context.Context, picture int64, r io.Reader, progress func(done int64)) (sum string, err error) {
	hash := sha256.New()
	pieces := int64(0)
	for done, end := int64(0), false; !end; {
		err := d.write(ctx, func(tx *Tx) error { // a few pieces a transaction
			for range 8 {
				piece := make([]byte, pieceBytes)
				n, err := io.ReadFull(r, piece)
				if err == io.EOF || err == io.ErrUnexpectedEOF {
					end = true
				} else if err != nil {
					return err
				}
				if n == 0 {
					return nil
				}
				if pieces >= 1<<pictureBits {
					return fmt.Errorf("a file of more than %d TB cannot be kept: link it", 1<<(pictureBits-20))
				}
				hash.Write(piece[:n])
				if _, err := tx.exec("INSERT INTO original (id, picture, data) VALUES (?, ?, ?)", picture<<pictureBits|pieces, picture, piece[:n]); err != nil {
					return err
				}
				pieces++
				done += int64(n)
				if end {
					return nil
				}
			}
			return nil
		})
		if err != nil {
			return "", err
		}
		progress(done)
	}
	return hex.EncodeToString(hash.Sum(nil)), nil
}

// WriteOriginal writes the file that a shot came from, as it was, and returns an error where it is not kept, or not any
// more what it was.
func (r reads) WriteOriginal(s *Shot, w io.Writer) error {
	if s.Linked {
		return fmt.Errorf("shot %q: its original is not in the dossier but at %s", s.Name, s.File)
	}
	hash := sha256.New()
	pieces, err := r.count("SELECT count(*) FROM original WHERE picture = ?", s.picture)
	if err != nil {
		return err
	}
	for i := range int64(pieces) {
		data, err := one(r, missing("piece %d of the original of shot %q", i, s.Name), "SELECT data FROM original WHERE id = ?",
			func(scan func(...any) error) (b []byte, err error) { return b, scan(&b) }, s.picture<<pictureBits|i)
		if err != nil {
			return err
		}
		hash.Write(data)
		if _, err := w.Write(data); err != nil {
			return err
		}
	}
	if sum := hex.EncodeToString(hash.Sum(nil)); sum != s.SHA256 {
		return fmt.Errorf("shot %q: what is kept of its original has the SHA-256 %s, not %s: it is damaged", s.Name, sum, s.SHA256)
	}
	return nil
}

// DropPicture clears away a pyramid that no shot has.
func (d *Dossier) DropPicture(ctx context.Context, picture int64) error {
	return d.write(ctx, func(tx *Tx) error {
		_, err := tx.exec("DELETE FROM picture WHERE id = ? AND complete = 0", picture)
		return err
	})
}

// Tile returns a tile of a shot's pyramid, packed.
func (r reads) Tile(s *Shot, level, column, row int) ([]byte, error) {
	return one(r, fmt.Errorf("tile %d, %d of level %d is missing: the dossier is damaged", column, row, level),
		"SELECT data FROM tile WHERE id = ?", func(scan func(...any) error) (b []byte, err error) { return b, scan(&b) }, tileID(s.picture, level, column, row))
}

// Pyramid returns the pyramid of a shot, to be read as long as what it is asked of is there.
func (r reads) Pyramid(s *Shot) *shot.Pyramid {
	of := *s
	return shot.NewPyramid(s.Header, func(level, column, row int) ([]byte, error) { return r.Tile(&of, level, column, row) })
}

// tilesOf returns how many tiles a pyramid has.
func tilesOf(width, height int) int {
	n := 0
	for level := range shot.Levels(width, height) {
		w, h := shot.LevelSize(width, height, level)
		n += ((w + shot.TileSide - 1) / shot.TileSide) * ((h + shot.TileSide - 1) / shot.TileSide)
	}
	return n
}
