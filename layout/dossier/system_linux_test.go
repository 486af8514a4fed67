package dossier

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// mounted mounts a file system in memory, which only root may.
func mounted(t *testing.T, flags uintptr, options string) string {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", flags, options); err != nil {
		t.Skipf("a file system of its own cannot be mounted (%v): this is NOT checked by this run", err)
	}
	t.Cleanup(func() { syscall.Unmount(dir, 0) })
	return dir
}

// TestDiskReallyFull: on a disk of 3 MB that fills up, notes and pyramids alike.
func TestDiskReallyFull(t *testing.T) {
	dir := mounted(t, 0, "size=3m")
	path := filepath.Join(dir, "a.dossier")
	d, err := Create(t.Context(), path, builtin(t))
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for ; err == nil && n < 1000; n++ {
		if err = addNoise(t.Context(), d, fmt.Sprint(n)); err == nil {
			err = d.Edit(t.Context(), "note", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: fmt.Sprint(n)}) })
		}
	}
	if err == nil || !strings.Contains(err.Error(), "nothing was changed") {
		t.Fatal(err)
	}
	shots, err := d.Shots()
	if err != nil || len(shots) < n-1 {
		t.Errorf("%d shots after %d rounds, %v", len(shots), n, err)
	}
	d.Close()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT, "size=30m"); err != nil {
		t.Fatal(err)
	}
	again, err := Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	if err := addNoise(t.Context(), again, "with room"); err != nil {
		t.Error(err)
	}
	again.Close()
	checked(t, path)
}

// TestReadOnlyMount: a dossier on a medium that cannot be written to is read.
func TestReadOnlyMount(t *testing.T) {
	dir := mounted(t, 0, "size=3m")
	path := filepath.Join(dir, "a.dossier")
	d, err := Create(t.Context(), path, builtin(t))
	if err != nil {
		t.Fatal(err)
	}
	d.Close()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, "size=3m"); err != nil {
		t.Fatal(err)
	}
	readsOnly(t, path, "its folder cannot be written to")
	if _, err := Create(t.Context(), filepath.Join(dir, "b.dossier"), builtin(t)); err == nil {
		t.Error("made on a medium that cannot be written to")
	}
	if files, _ := os.ReadDir(dir); len(files) != 1 {
		t.Error(files)
	}
}

// TestReadOnlyFile: a dossier that cannot be written to itself, in a folder that can, is read, and nobody holds it.
func TestReadOnlyFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	create(t, path).Close()
	if err := syscall.Mount(path, path, "", syscall.MS_BIND, ""); err != nil {
		t.Skipf("a file cannot be mounted on itself (%v): this is NOT checked by this run", err)
	}
	defer syscall.Unmount(path, 0)
	if err := syscall.Mount("", path, "", syscall.MS_REMOUNT|syscall.MS_BIND|syscall.MS_RDONLY, ""); err != nil {
		t.Fatal(err)
	}
	d, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if by, held := HeldBy(path); held {
		t.Errorf("held by %v", by)
	}
	d.Close()
	readsOnly(t, path, "the file cannot be written to")
	if files, _ := os.ReadDir(filepath.Dir(path)); len(files) != 1 {
		t.Errorf("left behind: %v", files)
	}
}

// TestTwiceInOneProcess: that a process opens a dossier once more, and closes it, does not take away the lock by which
// other programs know that the file is in use. (The kernel drops a process's POSIX locks on a file as soon as it closes
// any of its descriptors of it: man 2 fcntl. SQLite knows that and shares its own.)
func TestTwiceInOneProcess(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	edit(t, d, "note", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: "x"}) })
	locked := func() bool {
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		table, err := os.ReadFile("/proc/locks")
		if err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(string(table)) {
			if strings.Contains(line, "POSIX") && strings.Contains(line, fmt.Sprintf(" %d ", os.Getpid())) && strings.Contains(line, fmt.Sprintf(":%d ", info.Sys().(*syscall.Stat_t).Ino)) {
				return true
			}
		}
		return false
	}
	if !locked() {
		t.Fatal("not locked even by the first opener")
	}
	for _, how := range []func(context.Context, string) (*Dossier, error){Open, OpenToRead} {
		again, err := how(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		again.Close()
		if !locked() {
			t.Error("the lock is gone")
		}
	}
}

// TestCompactWithoutRoom: where the smaller file does not fit beside the dossier, it is said what was done and what was
// not, and the dossier is whole.
func TestCompactWithoutRoom(t *testing.T) {
	path := filepath.Join(mounted(t, 0, "size=6m"), "a.dossier")
	d, err := Create(t.Context(), path, builtin(t))
	if err != nil {
		t.Fatal(err)
	}
	for i := range 4 {
		if err := addNoise(t.Context(), d, fmt.Sprint("shot ", i)); err != nil {
			t.Fatal(err)
		}
	}
	d.Close()
	d = reopen(t, path) // with nothing left to be taken over into the file
	if _, _, err := d.Compact(t.Context(), true); err == nil || !strings.Contains(err.Error(), "the journal is gone, but the file is not as small as it can be: the smaller one could not be written beside it") {
		t.Error(err)
	}
	if h, err := d.History(); err != nil || len(h) != 0 {
		t.Error(h, err)
	}
	if shots, err := d.Shots(); err != nil || len(shots) != 4 {
		t.Error(shots, err)
	}
	d.Close()
	checked(t, path)
}

// TestHolderIsNoPipe: a pipe where the holder's file belongs keeps nobody waiting.
func TestHolderIsNoPipe(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	create(t, path).Close()
	if err := syscall.Mkfifo(path+holderSuffix, 0o666); err != nil {
		t.Skipf("no pipe can be made (%v): this is NOT checked by this run", err)
	}
	if by, held := HeldBy(path); held {
		t.Error(by)
	}
	d := reopen(t, path)
	if !strings.Contains(d.ReadOnly(), "is not a file, which nothing of ours makes") {
		t.Error(d.ReadOnly())
	}
	d.Close()
	os.Remove(path + holderSuffix)
}
