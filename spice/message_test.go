package spice

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/iotest"
)

// TestMessages: every error with file, line, what was found and what to do.
func TestMessages(t *testing.T) {
	long := strings.Repeat("x", 100)
	for text, want := range map[string]string{
		"M1 a b c":                       "2: element M1: a transistor has four nodes and a model\n    M1 d g s b model W=… L=…",
		"M1 a b c m w=1u":                "2: element M1: a transistor has four nodes and a model\n    M1 d g s b model W=… L=…",
		"M1 a b c d m 1u":                "2: element M1: \"1u\" has no meaning here\n    M1 d g s b model W=… L=…",
		"M1 a b c d m w=x":               "2: element M1: w: \"x\" is neither a number nor a parameter\n    write a number, such as 0.13u",
		"M1 a b c d m w=640":             "2: element M1: w = 640 is no size of a device\n    lengths are in metres, areas in m²; write 0.13u for 0.13 µm",
		"M1 a b c d m w=-1u":             "2: element M1: w = -1e-06 is no size of a device\n    lengths are in metres, areas in m²; write 0.13u for 0.13 µm",
		"M1 a b c d m w=1 w=2":           "2: element M1: w=1 and w=2 are both given\n    leave one of them",
		"M1 a b c d m m=0.5":             "2: element M1: m = 0.5 is no whole number from 1 to 1000000000",
		"M1 a b c d m ng=0":              "2: element M1: ng = 0 is no whole number from 1 to 1000000000",
		"M1 a b c d m ng=1meg m=1meg":    "2: element M1: has 1e+12 fingers, more than 1000000000",
		"M1 a b c {d} m":                 "2: element M1: \"d\" stands where a net is named",
		"M1 a b c d {m}":                 "2: element M1: \"m\" stands where a model is named",
		"M1 a b c d m w=":                "2: \"w\"= without a value",
		"M1 a b c d m w={1u":             "2: \"{1u\" is not closed by }",
		"M1 a b c d m w='1u":             "2: \"'1u\" is not closed by '",
		"M1 a b c d m w=1=2":             "2: = without a name before it",
		"w=1":                            "2: \"w=1\" is no element\n    a line begins with the name of an element, a dot or *",
		"{a}":                            "2: \"{a}\" is no element\n    a line begins with the name of an element, a dot or *",
		"(":                              "2: \"(\" is no element\n    a line begins with the name of an element, a dot or *",
		"M1 a a a a d\n.model d d":       "2: element M1: model d on line 3 is of type d, not nmos or pmos",
		"D1 a b":                         "2: element D1: a diode has two nodes and a model\n    D1 anode cathode model AREA=… PJ=…",
		"D1 a b d 1p 1u 1":               "2: element D1: \"1\" has no meaning here\n    D1 anode cathode model AREA=… PJ=…",
		"D1 a b d a=1p area=1p":          "2: element D1: a=1p and area=1p are both given\n    leave one of them",
		"D1 a b d 1e9":                   "2: element D1: area = 1e+09 is no size of a device\n    lengths are in metres, areas in m²; write 0.13u for 0.13 µm",
		"Q1 a b q":                       "2: element Q1: a bipolar transistor has three or four nodes and a model\n    Q1 collector base emitter [substrate] model",
		"Q1 a b c q area=0":              "2: element Q1: area = 0 is no factor",
		"J1 a b j":                       "2: element J1: a junction transistor has three nodes and a model\n    J1 drain gate source model",
		"R1 a":                           "2: element R1: a resistor has two nodes",
		"R1 a b":                         "2: element R1: has neither a value nor a model\n    R1 a b 1k",
		"R1 a b 1 k":                     "2: element R1: \"k\" has no meaning here\n    write a value without blanks, such as 1k, and one model at most",
		"R1 a b 1 2":                     "2: element R1: \"2\" has no meaning here\n    write a value without blanks, such as 1k, and one model at most",
		"R1 a b {x}":                     "2: element R1: \"x\" is neither a number nor a parameter\n    write a number, such as 1k",
		"V1 a":                           "2: element V1: a voltage source has two nodes",
		"V1 a b 1 2":                     "2: element V1: \"2\" has no meaning here\n    V1 plus minus 1.8",
		"Z1 a b":                         "2: element Z1: no device begins with Z here\n    elements that are read: M, D, Q, J, R, C, L, V, I, X",
		"#1 a b":                         "2: element #1: no device begins with # here\n    elements that are read: M, D, Q, J, R, C, L, V, I, X",
		"R1 a b 1\n\nr1 a b 2":           "4: element r1 is there already, on line 2\n    rename one of them",
		"X1":                             "2: element X1: names no subcircuit before its parameters\n    X1 net … subcircuit name=value …",
		"X1 a s w=1 b":                   "2: element X1: names no subcircuit before its parameters\n    X1 net … subcircuit name=value …",
		"X1 a nothing":                   "2: element X1: uses subcircuit nothing, which the file does not define\n    add its .subckt",
		".subckt a x\n.ends\nX1 p q a":   "4: element X1: gives 2 nets to subcircuit a, which has 1 ports",
		".subckt a x\n.ends\nX1 p a w=1": "4: element X1: subcircuit a has no parameter \"w\"\n    write w=… into the line of its .subckt",
		".subckt a x\nX1 x a\n.ends":     "3: subcircuit a contains itself: a → a\n    a circuit cannot hold itself",
		".subckt a x\nX1 x b\n.ends\n.subckt b x\nX1 x a m=2\n.ends": "3: subcircuit b contains itself: b → a → b\n    a circuit cannot hold itself",
		".subckt a x":                            "2: subcircuit a has no .ends\n    the file may be cut short",
		".subckt":                                "2: .subckt without a name\n    .subckt NAME net …",
		".subckt a x\n.ends\n.subckt A y\n.ends": "4: subcircuit A is there already, on line 2\n    rename one of them",
		".subckt a x X\n.ends":                   "2: subcircuit a has port X twice\n    give each port its own name",
		".subckt a x w=1 y\n.ends":               "2: subcircuit a: \"y\" is no port\n    .subckt NAME net … name=value …",
		".subckt a x w=y\n.ends":                 "2: subcircuit a: parameter w, line 2: \"y\" is neither a number nor a parameter",
		".ends":                                  "2: .ends without .subckt\n    take it out, or begin with .subckt",
		".subckt a\n.ends b":                     "3: .ends b does not end subcircuit a, which begins on line 2\n    end the inner one first",
		".model x":                               "2: .model wants a name and a type\n    .model NAME nmos (…)",
		".model x nmos\n.model X pmos":           "3: model X is there already, as nmos on line 2\n    rename one of them",
		".param w":                               "2: .param: \"w\" is not name=value\n    .param name=value …",
		".options scale=2":                       "2: scale = 2 is no number from 0 to 1\n    write .options scale=1u",
		".include /etc/passwd":                   "2: .include is refused: a netlist opens no other file\n    put its text into this file",
		".LIB x tt":                              "2: .lib is refused: a netlist opens no other file\n    put its text into this file",
		".control\nshell rm\n.endc":              "2: a .control section is refused: a netlist runs no commands\n    take it out: only the circuit is read",
		".if (x)":                                "2: \".if\" is not read here\n    cards that are read: .subckt .ends .model .param .global .options .end",
		".subkt a b":                             "2: \".subkt\" is not read here\n    cards that are read: .subckt .ends .model .param .global .options .end",
		".subckt a x\nX1 x b m=1meg\n.ends\n.subckt b x\n.ends\nX1 p a m=1meg": "3: element X1: stands for 1e+12 devices in parallel, more than 1000000000",
		"R1 a b 1\x00": "2: the control character 0x00 has no place in a netlist\n    is this a SPICE netlist?",
		"R1 a 0 lvsres\nR2 a vdd lvsres\n.global vdd": "3: the global nets 0 and vdd are shorted in deck\n    give both the same name",
		"R1 a b 1 " + long:                            "",
		"R1 a b {" + long + "}":                       "2: element R1: \"" + long[:60] + "\"… is neither a number nor a parameter\n    write a number, such as 1k",
	} {
		_, err := Read("deck.sp", strings.NewReader("*\n"+text+"\n"), ReadOptions{})
		if want == "" {
			if err != nil {
				t.Errorf("%q: %v", text, err)
			}
			continue
		}
		if want = "deck.sp:" + want; err == nil || err.Error() != want {
			t.Errorf("%q:\ngot  %v\nwant %s", text, err, want)
			continue
		}
		if e := (*Error)(nil); !errors.As(err, &e) || e.File != "deck.sp" {
			t.Errorf("%q: not an *Error", text)
		}
	}
	if _, err := Read("deck.sp", strings.NewReader("\n+ a"), ReadOptions{}); err == nil || err.Error() != "deck.sp:2: a continuation line with nothing before it\n    + goes on with the element above" {
		t.Errorf("continuation: %v", err)
	}
	for _, text := range []string{"M1 d g s b nfet", "r1 a b 1k", "Xa1 p q a", "X1 p q a", "Mload d g s b nfet w=1u"} {
		want := "deck.sp:1: the first line is the title and no element, but it looks like one: \"" + text + "\"\n    put a title or a comment above it"
		_, err := Read("deck.sp", strings.NewReader(text), ReadOptions{})
		if text[1] == 'a' && len(text) > 2 && text[2] == '1' {
			if err != nil {
				t.Errorf("%q may be a title: %v", text, err)
			}
		} else if err == nil || err.Error() != want {
			t.Errorf("%q: %v", text, err)
		}
	}
	if _, err := Read("deck.sp", strings.NewReader("Xinv a y inv\n.subckt inv a y\n.ends\n"), ReadOptions{}); err == nil || !strings.Contains(err.Error(), "it looks like one: \"Xinv a y inv\"") {
		t.Errorf("an instance of what the file defines is no title: %v", err)
	}
	broken := errors.New("the disk is gone")
	if _, err := Read("deck.sp", iotest.ErrReader(broken), ReadOptions{}); !errors.Is(err, broken) || err.Error() != "deck.sp: the disk is gone" {
		t.Errorf("read error: %v", err)
	}
}

// TestBombs: a few lines cannot ask for more than they hold.
func TestBombs(t *testing.T) {
	var values strings.Builder // each level uses the next with two different values: 2^40 circuits
	values.WriteString("*\n")
	for i := range 40 {
		fmt.Fprintf(&values, ".subckt s%d a p=1\nX1 a s%d p={2*p}\nX2 a s%d p={2*p+1}\n.ends\n", i, i+1, i+1)
	}
	values.WriteString(".subckt s40 a p=1\nR1 a 0 p\n.ends\n")
	_, err := Read("bomb.sp", strings.NewReader(values.String()), ReadOptions{})
	if err == nil || !strings.Contains(err.Error(), fmt.Sprintf("the values of parameters make more than %d further elements\n    use fewer different values", maxCopied+8*81)) {
		t.Errorf("values: %v", err)
	}
	var deep strings.Builder
	deep.WriteString("*\n")
	for i := range 2 * maxDepth {
		fmt.Fprintf(&deep, ".subckt s%d a\nX1 a s%d\n.ends\n", i, i+1)
	}
	fmt.Fprintf(&deep, ".subckt s%d a\n.ends\n", 2*maxDepth)
	_, err = Read("bomb.sp", strings.NewReader(deep.String()), ReadOptions{})
	if err == nil || !strings.Contains(err.Error(), "subcircuits lie more than 10000 deep in each other") {
		t.Errorf("depth: %v", err)
	}
	// a million devices in one line are one device
	c := readFlat(t, "*\nM1 d g s b nfet w=1u l=1u m=1meg\n", "deck")
	expectLines(t, c, "M1 nmos d g s b nfet w=1e+09 l=1000 fingers=1e+06\n")
}
