// Package geojson reads and writes drawings as GeoJSON (RFC 7946), for programs that work with maps.
//
// Positions are µm in the frame, x right and y up, with three decimals at most, so that every nanometre is exact. The
// standard's own coordinates are longitudes and latitudes unless the parties agree otherwise (section 4); a member "units"
// says that they do.
//
//   - read.go     the members of a file, one feature after the other; a feature is kept only while it is read;
//     token.go: JSON, token by token
//   - coords.go   positions and how deep they lie in lists
//   - feature.go  what becomes of a feature; report.go what was left out or taken differently
//   - write.go    the writer; parts.go: polygons as the standard has them
//   - error.go    Error: file, byte, feature, what is wrong, what to do
//
// What is read: FeatureCollection and Feature with Polygon, MultiPolygon (one shape), LineString and MultiLineString (wires
// with a property "width" in µm, and "ends": "flush", "round" or "half"), Point and MultiPoint (labels with a property
// "label", or else "name"), GeometryCollection; also a geometry by itself, which has no properties, so that somebody has to
// say its layer (Options.Default). The property "layer" names the layer; "traced": true makes a polygon a traced area; "path"
// names the instance in whose drawing a label lies; "sigma_nm" and "shot" say how uncertain the edges of a polygon or wire are,
// and which photograph it was traced over (Report.Stated). Rings may go either way around; they must be closed.
//
// Written is the flattened drawing: the format has no cells. A polygon that crosses itself by several rings, such as a
// wire in pieces, is written as what it covers.
//
// Memory goes with the shapes that are kept and the largest feature, not with the file.
package geojson
