package dossier

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
)

// applicationID marks an SQLite file as a dossier ("umtl").
const applicationID = 0x756d746c

// step makes a file of one schema version of one of the version before.
type step struct {
	sql    string
	tables []table // whose rows the journal follows from then on
}

// steps[v] makes a file of version v+1. A step that was released is never changed: files of all versions are about, and
// one that does not look as its steps make it is not trusted.
var steps = []step{{schema1, tables1}, {schema2, tables2}, {schema3, tables3}}

// Version is the schema version that this program writes.
func Version() int { return len(steps) }

// Frame is the id of the cell that stands for the die itself: its coordinates are those of the frame.
const Frame = 1

const schema1 = `
CREATE TABLE stack (id INTEGER PRIMARY KEY CHECK (id = 1), toml TEXT NOT NULL) STRICT;
CREATE TABLE picture (id INTEGER PRIMARY KEY, complete INTEGER NOT NULL) STRICT;
CREATE TABLE tile (
	id INTEGER PRIMARY KEY, -- picture·2^24 + level·2^20 + row·2^10 + column
	picture INTEGER NOT NULL REFERENCES picture ON DELETE CASCADE,
	data BLOB NOT NULL CHECK (length(data) <= 1048576)) STRICT;
CREATE INDEX tile_picture ON tile (picture);
CREATE TABLE original ( -- the file that a picture came from, in pieces
	id INTEGER PRIMARY KEY, -- picture·2^24 + piece
	picture INTEGER NOT NULL REFERENCES picture ON DELETE CASCADE,
	data BLOB NOT NULL CHECK (length(data) <= 1048576)) STRICT;
CREATE INDEX original_picture ON original (picture);
CREATE TABLE shot (
	id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, position INTEGER NOT NULL,
	picture INTEGER NOT NULL, file TEXT NOT NULL, sha256 TEXT NOT NULL, page INTEGER NOT NULL, linked INTEGER NOT NULL,
	width INTEGER NOT NULL, height INTEGER NOT NULL, channels INTEGER NOT NULL, depth INTEGER NOT NULL, orientation INTEGER NOT NULL,
	step TEXT NOT NULL, objective TEXT NOT NULL, na REAL NOT NULL, wavelength_nm REAL NOT NULL, illumination TEXT NOT NULL,
	camera_um REAL NOT NULL, taken TEXT NOT NULL, note TEXT NOT NULL,
	low REAL NOT NULL, high REAL NOT NULL, gamma REAL NOT NULL, channel INTEGER NOT NULL,
	nm_per_px REAL NOT NULL, sigma_nm_per_px REAL NOT NULL, calibrated TEXT NOT NULL) STRICT;
CREATE TABLE control_point (
	id INTEGER PRIMARY KEY, shot INTEGER NOT NULL REFERENCES shot ON DELETE CASCADE,
	px REAL NOT NULL, py REAL NOT NULL, x REAL NOT NULL, y REAL NOT NULL, sigma_px REAL NOT NULL) STRICT;
CREATE INDEX control_point_shot ON control_point (shot);
CREATE TABLE registration (
	id INTEGER PRIMARY KEY, shot INTEGER NOT NULL UNIQUE REFERENCES shot ON DELETE CASCADE,
	kind TEXT NOT NULL, parameters BLOB NOT NULL, residuals BLOB NOT NULL, rms_px REAL NOT NULL, rms_nm REAL NOT NULL) STRICT;
CREATE TABLE cell (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT;
CREATE TABLE shape (
	id INTEGER PRIMARY KEY, cell INTEGER NOT NULL REFERENCES cell ON DELETE CASCADE, layer TEXT NOT NULL, polygon BLOB NOT NULL,
	x0 INTEGER NOT NULL, y0 INTEGER NOT NULL, x1 INTEGER NOT NULL, y1 INTEGER NOT NULL,
	method TEXT NOT NULL, shot INTEGER REFERENCES shot ON DELETE SET NULL, file TEXT NOT NULL, sigma_nm REAL NOT NULL) STRICT;
CREATE INDEX shape_cell ON shape (cell);
CREATE INDEX shape_shot ON shape (shot);
CREATE VIRTUAL TABLE shape_box USING rtree_i32 (id, x0, x1, y0, y1);
CREATE TRIGGER shape_box_insert AFTER INSERT ON shape BEGIN INSERT INTO shape_box VALUES (new.id, new.x0, new.x1, new.y0, new.y1); END;
CREATE TRIGGER shape_box_update AFTER UPDATE ON shape BEGIN
	DELETE FROM shape_box WHERE id = old.id; INSERT INTO shape_box VALUES (new.id, new.x0, new.x1, new.y0, new.y1); END;
CREATE TRIGGER shape_box_delete AFTER DELETE ON shape BEGIN DELETE FROM shape_box WHERE id = old.id; END;
CREATE TABLE traced_area (id INTEGER PRIMARY KEY, layer TEXT NOT NULL, polygon BLOB NOT NULL) STRICT;
CREATE TABLE placement (
	id INTEGER PRIMARY KEY, parent INTEGER NOT NULL REFERENCES cell ON DELETE CASCADE, child INTEGER NOT NULL REFERENCES cell ON DELETE CASCADE,
	name TEXT NOT NULL, mirror INTEGER NOT NULL, magnification REAL NOT NULL, degrees REAL NOT NULL, x INTEGER NOT NULL, y INTEGER NOT NULL,
	columns INTEGER NOT NULL, rows INTEGER NOT NULL, column_x REAL NOT NULL, column_y REAL NOT NULL, row_x REAL NOT NULL, row_y REAL NOT NULL) STRICT;
CREATE INDEX placement_parent ON placement (parent);
CREATE INDEX placement_child ON placement (child);
CREATE TABLE label (
	id INTEGER PRIMARY KEY, cell INTEGER NOT NULL REFERENCES cell ON DELETE CASCADE, layer TEXT NOT NULL,
	x INTEGER NOT NULL, y INTEGER NOT NULL, text TEXT NOT NULL) STRICT;
CREATE INDEX label_cell ON label (cell);
CREATE TABLE verdict (
	id INTEGER PRIMARY KEY, cell INTEGER REFERENCES cell ON DELETE SET NULL, lost TEXT NOT NULL, -- the name of a cell that is gone
	layer TEXT NOT NULL, x INTEGER NOT NULL, y INTEGER NOT NULL, kind TEXT NOT NULL, reading TEXT NOT NULL, note TEXT NOT NULL) STRICT;
CREATE INDEX verdict_cell ON verdict (cell);
CREATE TABLE note (
	id INTEGER PRIMARY KEY, cell INTEGER NOT NULL REFERENCES cell ON DELETE CASCADE, x INTEGER NOT NULL, y INTEGER NOT NULL,
	text TEXT NOT NULL) STRICT;
CREATE INDEX note_cell ON note (cell);
CREATE TABLE block (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, polygon BLOB NOT NULL, reason TEXT NOT NULL) STRICT;
CREATE TABLE edit (id INTEGER PRIMARY KEY, what TEXT NOT NULL, at TEXT NOT NULL, undone INTEGER NOT NULL) STRICT;
CREATE TABLE change (
	id INTEGER PRIMARY KEY, edit INTEGER NOT NULL REFERENCES edit ON DELETE CASCADE,
	tbl TEXT NOT NULL, row INTEGER NOT NULL, before TEXT, after TEXT) STRICT;
CREATE INDEX change_edit ON change (edit);
CREATE TABLE recording (id INTEGER PRIMARY KEY CHECK (id = 1), edit INTEGER) STRICT; -- the edit under way, or NULL
INSERT INTO recording VALUES (1, NULL);
INSERT INTO cell VALUES (1, 'die');
`

// table is a journaled table and its columns; the first is its key.
type table struct {
	name    string
	columns []string
}

// tables1 are the journaled tables of schema 1.
var tables1 = []table{
	{"stack", []string{"id", "toml"}},
	{"shot", []string{"id", "name", "position", "picture", "file", "sha256", "page", "linked", "width", "height", "channels", "depth", "orientation", "step", "objective", "na",
		"wavelength_nm", "illumination", "camera_um", "taken", "note", "low", "high", "gamma", "channel", "nm_per_px", "sigma_nm_per_px", "calibrated"}},
	{"control_point", []string{"id", "shot", "px", "py", "x", "y", "sigma_px"}},
	{"registration", []string{"id", "shot", "kind", "parameters", "residuals", "rms_px", "rms_nm"}},
	{"cell", []string{"id", "name"}},
	{"shape", []string{"id", "cell", "layer", "polygon", "x0", "y0", "x1", "y1", "method", "shot", "file", "sigma_nm"}},
	{"traced_area", []string{"id", "layer", "polygon"}},
	{"placement", []string{"id", "parent", "child", "name", "mirror", "magnification", "degrees", "x", "y", "columns", "rows", "column_x", "column_y", "row_x", "row_y"}},
	{"label", []string{"id", "cell", "layer", "x", "y", "text"}},
	{"verdict", []string{"id", "cell", "lost", "layer", "x", "y", "kind", "reading", "note"}},
	{"note", []string{"id", "cell", "x", "y", "text"}},
	{"block", []string{"id", "name", "polygon", "reason"}},
}

const schema2 = `
CREATE TABLE bias (
	id INTEGER PRIMARY KEY, shot INTEGER NOT NULL REFERENCES shot ON DELETE CASCADE, layer TEXT NOT NULL,
	out_nm REAL NOT NULL, sigma_nm REAL NOT NULL, UNIQUE (shot, layer)) STRICT;
`

// tables2 are the journaled tables of schema 2.
var tables2 = append(tables1[:len(tables1):len(tables1)], table{"bias", []string{"id", "shot", "layer", "out_nm", "sigma_nm"}})

// schema3 says of blocks how sure they are and where the block diagram has them, and keeps the die's own outline.
var schema3 = addColumn("block", "status", "TEXT", "'supposed'") + addColumn("block", "document", "TEXT", "''") + addColumn("block", "figure", "TEXT", "''") +
	addColumn("block", "sign", "TEXT", "''") + `
CREATE TABLE outline (id INTEGER PRIMARY KEY CHECK (id = 1), polygon BLOB NOT NULL) STRICT; -- of the die
`

// tables3 are the journaled tables of schema 3.
var tables3 = append(withColumns(tables2, "block", "status", "document", "figure", "sign"), table{"outline", []string{"id", "polygon"}})

// withColumns are tables of which one has some columns more, behind its others.
func withColumns(tables []table, name string, columns ...string) []table {
	out := slices.Clone(tables)
	for i := range out {
		if out[i].name == name {
			out[i].columns = slices.Concat(out[i].columns, columns)
		}
	}
	return out
}

// journaled are the journaled tables of the newest schema.
func journaled() []table { return steps[len(steps)-1].tables }

// triggers returns the statements by which the journal hears of every row that changes while an edit is under way: the
// values before and after, as SQL literals with commas between them. They are read as data, never run. A row that is set
// to what it was does not change.
func triggers(tables []table) string {
	var b strings.Builder
	each := func(t table, sep, format string) string {
		var parts []string
		for _, c := range t.columns {
			parts = append(parts, strings.ReplaceAll(format, "?", c))
		}
		return strings.Join(parts, sep)
	}
	for _, t := range tables {
		before, after := each(t, "||','||", "quote(old.?)"), each(t, "||','||", "quote(new.?)")
		for _, event := range []struct{ name, row, before, after, when string }{
			{"insert", "new", "NULL", after, ""},
			{"update", "new", before, after, " AND (" + each(t, " OR ", "old.? IS NOT new.?") + ")"},
			{"delete", "old", before, "NULL", ""},
		} {
			fmt.Fprintf(&b, "CREATE TRIGGER %s_journal_%s AFTER %s ON %s WHEN (SELECT edit FROM recording) IS NOT NULL%s BEGIN\n"+
				"\tINSERT INTO change (edit, tbl, row, before, after) SELECT edit, '%s', %s.id, %s, %s FROM recording; END;\n",
				t.name, event.name, strings.ToUpper(event.name), t.name, event.when, t.name, event.row, event.before, event.after)
		}
	}
	return b.String()
}

// addColumn is for a step: it adds a column to a journaled table, behind its others, with a value for the rows that
// there are and for those that the journal remembers.
func addColumn(table, column, kind, literal string) string {
	return fmt.Sprintf("ALTER TABLE %[1]s ADD COLUMN %[2]s %[3]s NOT NULL DEFAULT %[4]s;\n"+
		"UPDATE change SET before = before || ',%[5]s', after = after || ',%[5]s' WHERE tbl = '%[1]s';\n", table, column, kind, literal, strings.ReplaceAll(literal, "'", "''"))
}

// migrate takes a file from one schema version to the newest, in the caller's transaction, during which foreign keys are
// not enforced: a table may be made anew. The triggers of the journal are made anew with each step.
func migrate(ctx context.Context, tx *sql.Tx, from int) error {
	for v := from; v < len(steps); v++ {
		if _, err := tx.ExecContext(ctx, stepText(v)); err != nil {
			return fmt.Errorf("schema %d to %d: %w", v, v+1, err)
		}
	}
	var wrong int
	if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM pragma_foreign_key_check").Scan(&wrong); err != nil {
		return err
	}
	if wrong > 0 {
		return fmt.Errorf("schema %d to %d: %d rows refer to what is not there", from, len(steps), wrong)
	}
	_, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA user_version = %d", len(steps)))
	return err
}

// stepText is all that a step does.
func stepText(v int) string {
	text := steps[v].sql + triggers(steps[v].tables)
	if v > 0 {
		text = dropTriggers(steps[v-1].tables) + text
	}
	return text
}

func dropTriggers(tables []table) string {
	var b strings.Builder
	for _, t := range tables {
		for _, event := range []string{"insert", "update", "delete"} {
			fmt.Fprintf(&b, "DROP TRIGGER %s_journal_%s;\n", t.name, event)
		}
	}
	return b.String()
}

// describe returns the schema as the file says it, an entry an object. SQLite names the R-tree's own tables.
func describe(ctx context.Context, q queryer) (map[string]string, error) {
	rows, err := q.QueryContext(ctx, "SELECT type || ' ' || name, coalesce(sql, '') FROM sqlite_schema")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	objects := map[string]string{}
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			return nil, err
		}
		objects[name] = text
	}
	return objects, rows.Err()
}

// known holds what schemaOf has found out, by the text of the steps: map[string]string each.
var known sync.Map

// schemaOf returns the schema of a version as its steps make it, an entry an object. A process makes it once. The triggers of earlier
// steps are left out: the last step makes them anew, and SQLite would go through all of them for each column that is added.
func schemaOf(version int) (map[string]string, error) {
	var text strings.Builder
	for _, s := range steps[:version] {
		text.WriteString(s.sql)
	}
	text.WriteString(triggers(steps[version-1].tables))
	if found, ok := known.Load(text.String()); ok {
		return found.(map[string]string), nil
	}
	memory, err := sql.Open(driverName, ":memory:")
	if err != nil {
		return nil, err
	}
	defer memory.Close()
	memory.SetMaxOpenConns(1)
	ctx := context.Background() // a few milliseconds
	if _, err := memory.ExecContext(ctx, text.String()); err != nil {
		return nil, err
	}
	objects, err := describe(ctx, memory)
	if err == nil {
		known.Store(text.String(), objects)
	}
	return objects, err
}

// compareSchema returns an error where a file's schema is not what the steps up to its version make.
func compareSchema(ctx context.Context, q queryer, version int) error {
	made, err := schemaOf(version)
	if err != nil {
		return err
	}
	want := maps.Clone(made)
	got, err := describe(ctx, q)
	if err != nil {
		return err
	}
	for name, text := range got {
		if want[name] != text {
			return fmt.Errorf("its %s is not one of a dossier: the file is damaged, or somebody changed it", name)
		}
		delete(want, name)
	}
	for name := range want {
		return fmt.Errorf("its %s is missing: the file is damaged, or somebody changed it", name)
	}
	return nil
}
