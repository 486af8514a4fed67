package gds

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// recordType is the third byte of a record.
type recordType uint8

const (
	recHeader       recordType = 0x00
	recBgnLib       recordType = 0x01
	recLibName      recordType = 0x02
	recUnits        recordType = 0x03
	recEndLib       recordType = 0x04
	recBgnStr       recordType = 0x05
	recStrName      recordType = 0x06
	recEndStr       recordType = 0x07
	recBoundary     recordType = 0x08
	recPath         recordType = 0x09
	recSref         recordType = 0x0A
	recAref         recordType = 0x0B
	recText         recordType = 0x0C
	recLayer        recordType = 0x0D
	recDatatype     recordType = 0x0E
	recWidth        recordType = 0x0F
	recXY           recordType = 0x10
	recEndEl        recordType = 0x11
	recSname        recordType = 0x12
	recColRow       recordType = 0x13
	recNode         recordType = 0x15
	recTextType     recordType = 0x16
	recPresentation recordType = 0x17
	recString       recordType = 0x19
	recStrans       recordType = 0x1A
	recMag          recordType = 0x1B
	recAngle        recordType = 0x1C
	recPathType     recordType = 0x21
	recElFlags      recordType = 0x26
	recNodeType     recordType = 0x2A
	recPropAttr     recordType = 0x2B
	recPropValue    recordType = 0x2C
	recBox          recordType = 0x2D
	recBoxType      recordType = 0x2E
	recPlex         recordType = 0x2F
	recBgnExtn      recordType = 0x30
	recEndExtn      recordType = 0x31
	lastRecord      recordType = 0x3B
)

// dataType is the fourth byte of a record.
type dataType uint8

const (
	dataNone  dataType = 0
	dataBits  dataType = 1
	dataInt16 dataType = 2
	dataInt32 dataType = 3
	dataReal8 dataType = 5
	dataASCII dataType = 6
)

// records is the record table: name, kind of data, and the number of data bytes where it is fixed and matters.
// Source: Calma GDSII Stream Format Manual, release 6.0, 1987 (from memory).
var records = [lastRecord + 1]struct {
	name string
	data dataType
	size int
}{
	recHeader: {"HEADER", dataInt16, 0}, recBgnLib: {"BGNLIB", dataInt16, 0}, recLibName: {"LIBNAME", dataASCII, 0},
	recUnits: {"UNITS", dataReal8, 16}, recEndLib: {"ENDLIB", dataNone, 0}, recBgnStr: {"BGNSTR", dataInt16, 0},
	recStrName: {"STRNAME", dataASCII, 0}, recEndStr: {"ENDSTR", dataNone, 0},
	recBoundary: {"BOUNDARY", dataNone, 0}, recPath: {"PATH", dataNone, 0}, recSref: {"SREF", dataNone, 0},
	recAref: {"AREF", dataNone, 0}, recText: {"TEXT", dataNone, 0}, recNode: {"NODE", dataNone, 0},
	recBox: {"BOX", dataNone, 0}, recEndEl: {"ENDEL", dataNone, 0},
	recLayer: {"LAYER", dataInt16, 2}, recDatatype: {"DATATYPE", dataInt16, 2}, recTextType: {"TEXTTYPE", dataInt16, 2},
	recBoxType: {"BOXTYPE", dataInt16, 2}, recNodeType: {"NODETYPE", dataInt16, 2},
	recWidth: {"WIDTH", dataInt32, 4}, recXY: {"XY", dataInt32, 0}, recSname: {"SNAME", dataASCII, 0},
	recColRow: {"COLROW", dataInt16, 4}, recPresentation: {"PRESENTATION", dataBits, 2},
	recString: {"STRING", dataASCII, 0}, recStrans: {"STRANS", dataBits, 2}, recMag: {"MAG", dataReal8, 8},
	recAngle: {"ANGLE", dataReal8, 8}, recPathType: {"PATHTYPE", dataInt16, 2}, recElFlags: {"ELFLAGS", dataBits, 2},
	recPropAttr: {"PROPATTR", dataInt16, 2}, recPropValue: {"PROPVALUE", dataASCII, 0},
	recPlex: {"PLEX", dataInt32, 4}, recBgnExtn: {"BGNEXTN", dataInt32, 4}, recEndExtn: {"ENDEXTN", dataInt32, 4},
}

func (t recordType) String() string {
	if t <= lastRecord && records[t].name != "" {
		return records[t].name
	}
	return fmt.Sprintf("type-%02X", uint8(t))
}

// set returns a bit mask of record types; all of them are below 64.
func set(types ...recordType) (mask uint64) {
	for _, t := range types {
		mask |= 1 << t
	}
	return mask
}

// bookkeeping are the records between HEADER and ENDLIB that say nothing about the drawing: library directory,
// reference libraries, fonts, attribute tables, generations, format and mask lists, cell class, links, spacing.
// The scanner passes over them wherever they stand. Source: the same manual, from memory.
var bookkeeping = set(0x14, 0x18, 0x1D, 0x1E, 0x1F, 0x20, 0x22, 0x23, 0x24, 0x25, 0x27, 0x28, 0x29,
	0x32, 0x33, 0x34, 0x35, 0x36, 0x37, 0x38, 0x39, 0x3A, 0x3B)

const (
	headSize  = 4
	maxRecord = 1<<16 - 1
)

// scanner hands out the records of a stream one by one.
type scanner struct {
	in   *bufio.Reader
	file string
	cell string // the cell that is being read, for errors

	at   int64 // offset of the current record
	size int   // its length; not yet discarded from in
	typ  recordType
	kind dataType
	data []byte // its data, in in's buffer: valid until the next call of next
}

func newScanner(file string, r io.Reader) scanner {
	return scanner{in: bufio.NewReaderSize(r, 2*maxRecord), file: file}
}

// next goes on to the next record that is not bookkeeping.
func (s *scanner) next() error {
	for {
		if err := s.advance(); err != nil {
			return err
		}
		if bookkeeping>>s.typ&1 == 0 {
			return s.checkForm()
		}
	}
}

func (s *scanner) advance() error {
	s.in.Discard(s.size) // has been peeked at, so it is there
	s.at += int64(s.size)
	s.size = 0
	head, err := s.in.Peek(headSize)
	if err != nil {
		return s.cutOff(len(head), err, "a record's first 4 bytes")
	}
	size, typ, kind := int(binary.BigEndian.Uint16(head)), recordType(head[2]), dataType(head[3])
	switch {
	case typ > lastRecord:
		return s.fail(s.at, damaged, "unknown record type %02X; types go from 00 to %02X", uint8(typ), uint8(lastRecord))
	case size < headSize:
		return s.fail(s.at, damaged, "record of %d bytes before ENDLIB; a record has at least %d", size, headSize)
	case size%2 != 0:
		return s.fail(s.at, damaged, "%s record of %d bytes; the number must be even", typ, size)
	}
	record, err := s.in.Peek(size)
	if err != nil {
		return s.cutOff(len(record), err, fmt.Sprintf("the %d bytes of its %v record", size, typ))
	}
	s.size, s.typ, s.kind, s.data = size, typ, kind, record[headSize:]
	return nil
}

// cutOff tells the end of the file, after so many bytes of a record, from a reader that failed.
func (s *scanner) cutOff(found int, err error, what string) error {
	switch {
	case !errors.Is(err, io.EOF):
		return s.failed(found, err)
	case found == 0:
		return s.fail(s.at, getCopy, "the file ends without ENDLIB")
	}
	return s.fail(s.at, getCopy, "the file ends after %d of %s", found, what)
}

// failed passes on an error of the reader below, so many bytes after the last record.
func (s *scanner) failed(found int, err error) error {
	return &Error{File: s.file, Offset: s.at + int64(found), Cell: s.cell, Text: "reading failed: " + err.Error(),
		Remedy: "read the file again", Err: err}
}

// checkForm compares the record's kind and amount of data with the table.
func (s *scanner) checkForm() error {
	want := &records[s.typ]
	switch {
	case s.kind != want.data:
		return s.fail(s.at, damaged, "%s record with data type %d; data type %d belongs there", s.typ, s.kind, want.data)
	case want.size != 0 && len(s.data) != want.size:
		return s.fail(s.at, damaged, "%s record with %d data bytes; %d belong there", s.typ, len(s.data), want.size)
	}
	return nil
}

// fail returns an error at an offset of the stream.
func (s *scanner) fail(at int64, remedy, format string, args ...any) error {
	return &Error{File: s.file, Offset: at, Cell: s.cell, Text: fmt.Sprintf(format, args...), Remedy: remedy}
}

func (s *scanner) int16At(i int) int { return int(int16(binary.BigEndian.Uint16(s.data[i:]))) }

func (s *scanner) int32At(i int) int { return int(int32(binary.BigEndian.Uint32(s.data[i:]))) }
