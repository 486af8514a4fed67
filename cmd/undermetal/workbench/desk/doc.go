// Package desk is the state of the workbench.
package desk
