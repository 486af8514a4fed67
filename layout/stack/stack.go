package stack

import (
	"fmt"

	"undermetal/layout"
)

// Role is what a layer is for.
type Role uint8

// The roles of layers.
const (
	Diffusion Role = iota + 1
	Gate           // a conductor that makes a channel where it crosses diffusion
	Metal
	Contact // joins conductors above and below it
	Well
	Pad  // an opening in the passivation
	Mark // conducts nothing; only used in conditions
)

var roleNames = [...]string{"", "diffusion", "gate", "metal", "contact", "well", "pad", "mark"}

func (r Role) String() string {
	if int(r) < len(roleNames) {
		return roleNames[r]
	}
	return fmt.Sprintf("Role(%d)", uint8(r))
}

// Stack is a process as far as it is known. The index of a layer in Layers is its layout.Layer.
type Stack struct {
	Name       string
	Layers     []Layer
	MOS        []MOSRule
	Taps       []TapRule
	Diodes     []DiodeRule
	Capacitors []CapacitorRule
	Resistors  []ResistorRule
	Substrate  Substrate
	Process    Process
}

// Pair is a GDSII layer and datatype (or texttype), both from 0 up.
type Pair struct{ Layer, Datatype int16 }

// String writes the pair as in a stack file: "22/0".
func (p Pair) String() string { return fmt.Sprintf("%d/%d", p.Layer, p.Datatype) }

// Layer is a named kind of drawn thing.
type Layer struct {
	Name        string
	Role        Role
	GDS, Labels []Pair         // where GDSII files keep its shapes, and the texts that name nets on it
	Joins       []layout.Layer // of a contact: what it joins, top to bottom
	Color       string         // "#rrggbb" or empty
	SheetOhm    float64        // ohm per square; this and the next three are 0 where unknown
	AreaAFUm2   float64        // aF/µm² to what lies below
	EdgeAFUm    float64        // aF/µm along the edge
	ThicknessNm float64
}

// Condition is a layer that must, or with Not must not, be there.
type Condition struct {
	Layer layout.Layer
	Not   bool
}

// Tie says what a bulk, tap or diode refers to: the substrate, a well layer, or (the zero value) nothing known.
type Tie struct {
	substrate bool
	well      layout.Layer
	isWell    bool
}

// ToSubstrate is the tie to the substrate.
var ToSubstrate = Tie{substrate: true}

// ToWell is the tie to a well layer.
func ToWell(l layout.Layer) Tie { return Tie{well: l, isWell: true} }

// Substrate reports whether t is the substrate.
func (t Tie) Substrate() bool { return t.substrate }

// Well returns the well layer, if t is one.
func (t Tie) Well() (layout.Layer, bool) { return t.well, t.isWell }

// MOSRule says which transistor a crossing of gate and diffusion is. The first rule that holds wins.
type MOSRule struct {
	Model             string
	Type              string // "n" or "p"
	Where             []Condition
	Gates, Diffusions []layout.Layer // those that the rule is for
	Bulk              Tie
}

// TapRule says which part of a diffusion ties a well or the substrate instead of being a junction.
type TapRule struct {
	Where      []Condition
	Diffusions []layout.Layer
	Ties       Tie
}

// DiodeRule says which junction is there for its own sake. With Type "n" the body is the cathode, with "p" the anode.
type DiodeRule struct {
	Model, Type string
	Body        layout.Layer // a diffusion or a well layer
	Where       []Condition
	To          Tie
}

// CapacitorRule says where two conductors above each other are meant as a capacitor.
type CapacitorRule struct {
	Model               string
	Upper, Lower        layout.Layer
	Where               []Condition
	AreaAFUm2, EdgeAFUm float64 // aF/µm², aF/µm; 0 where unknown
}

// ResistorRule says where a conductor is meant as a resistor.
type ResistorRule struct {
	Model    string
	Body     layout.Layer
	Where    []Condition
	SheetOhm float64 // ohm per square; 0 where unknown
}

// Substrate is what lies below everything.
type Substrate struct {
	Net    string // the name of its net, empty where unknown
	Type   string // "p" or "n"
	Labels []Pair // GDSII texts that name it
}

// Process is what is known of the process as a whole; 0 where unknown.
type Process struct {
	GateOxideNm, SupplyV, MinFeatureNm float64
}

// LayerNamed returns the layer of that name.
func (s *Stack) LayerNamed(name string) (layout.Layer, bool) {
	for i := range s.Layers {
		if s.Layers[i].Name == name {
			return layout.Layer(i), true
		}
	}
	return 0, false
}

// LayerNames returns the names of the layers in their order.
func (s *Stack) LayerNames() []string {
	names := make([]string, len(s.Layers))
	for i := range s.Layers {
		names[i] = s.Layers[i].Name
	}
	return names
}

// SubstrateLayer is the layer of labels that name the substrate, in a library drawn for the stack: the one after those
// of the stack. Nothing is drawn on it.
func (s *Stack) SubstrateLayer() layout.Layer { return layout.Layer(len(s.Layers)) }

// ofRole returns the layers of a role, in their order.
func (s *Stack) ofRole(r Role) []layout.Layer {
	var ls []layout.Layer
	for i := range s.Layers {
		if s.Layers[i].Role == r {
			ls = append(ls, layout.Layer(i))
		}
	}
	return ls
}
