// SPDX-License-Identifier: Apache-2.0

package events

import (
	"strconv"
	"strings"
)

// Root is the first token of every subject.
const Root = "towpath"

// Subject is the message subject an event is published on; a log refuses one
// that comes by another, so that permissions on subjects mean something.
//
//	towpath.PLANT.station.STATION.down            of the station itself
//	towpath.PLANT.station.STATION.operation.started   anything a station reports
//	towpath.PLANT.order.ORDER.added
//	towpath.PLANT.plan.published
//	towpath.PLANT.promise.PROMISE.reserved
//	towpath.PLANT.piece.SERIAL.scrapped           piece, tool, crew, result without a station
//	towpath.PLANT.event.voided
//
// Names are written as Token writes them.
func Subject(e Event) string {
	noun, verb, _ := strings.Cut(string(e.Kind), ".")
	base := Root + "." + Token(e.Plant) + "."
	switch {
	case noun == "order":
		return base + "order." + Token(orderOf(e)) + "." + verb
	case e.Station != "" && noun == "station":
		return base + "station." + Token(e.Station) + "." + verb
	case e.Station != "":
		return base + "station." + Token(e.Station) + "." + string(e.Kind)
	case noun == "piece" || noun == "tool" || noun == "crew" || noun == "result" || noun == "promise":
		return base + noun + "." + Token(About(e)) + "." + verb
	default:
		return base + string(e.Kind)
	}
}

// Topic is Subject as an MQTT topic: its tokens as levels. A broker that speaks
// both hands a message published on one to those who listen on the other.
func Topic(e Event) string { return strings.ReplaceAll(Subject(e), ".", "/") }

func orderOf(e Event) string {
	switch d := e.Data.(type) {
	case OrderData:
		return d.Order
	case CancelData:
		return d.Order
	}
	return ""
}

// About names the one thing an event speaks of: a serial, "order/line", a
// load, a mix, a tool unit, … It is the CloudEvents attribute subject.
func About(e Event) string {
	switch d := e.Data.(type) {
	case PlantData:
		return e.Plant
	case OrderData:
		return d.Order + "/" + d.Line
	case CancelData:
		if d.Line == "" {
			return d.Order
		}
		return d.Order + "/" + d.Line
	case ReserveData:
		return d.Promise
	case PromiseData:
		return d.Promise
	case OperationData:
		return d.Piece
	case LoadData:
		return d.Load
	case MixData:
		return d.Mix
	case StationData:
		return e.Station
	case ToolData:
		return d.Unit
	case AbsentData:
		return d.Crew
	case PresentData:
		return d.Crew
	case PieceData:
		return d.Piece
	case ResultData:
		return d.Piece
	case BatchData:
		if d.Lot != "" {
			return d.Material + "/" + d.Lot
		}
		return d.Mix + d.Load
	case PlanData:
		return strconv.FormatInt(d.Version, 10)
	case VoidData:
		return d.Event
	}
	return ""
}

// Token writes a name as one token of a subject and one segment of a URI path:
// letters, digits, '-' and '_' stay, every other byte becomes %XX (RFC 3986,
// section 2.1). Different names give different tokens.
func Token(name string) string {
	const hex = "0123456789ABCDEF"
	var b strings.Builder
	for i := 0; i < len(name); i++ {
		c := name[i]
		if plain(c) {
			b.WriteByte(c)
			continue
		}
		b.WriteByte('%')
		b.WriteByte(hex[c>>4])
		b.WriteByte(hex[c&15])
	}
	return b.String()
}

// Name reads a token back; false if a % is not followed by two hex digits or
// a character stands there that neither a subject nor a URI path may hold.
func Name(token string) (string, bool) {
	var b strings.Builder
	for i := 0; i < len(token); i++ {
		c := token[i]
		switch {
		case c == '%':
			if i+2 >= len(token) {
				return "", false
			}
			n, err := strconv.ParseUint(token[i+1:i+3], 16, 8)
			if err != nil {
				return "", false
			}
			b.WriteByte(byte(n))
			i += 2
		case plain(c) || c == '.' || c == '~':
			b.WriteByte(c)
		default:
			return "", false
		}
	}
	return b.String(), true
}

func plain(c byte) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '-' || c == '_'
}

// Source is the CloudEvents attribute source, a URI-reference: /plant/PLANT,
// or /plant/PLANT/station/STATION when a station reports.
func Source(e Event) string {
	s := "/plant/" + Token(e.Plant)
	if e.Station != "" {
		s += "/station/" + Token(e.Station)
	}
	return s
}

// sourceNames takes a source apart.
func sourceNames(source string) (plant, station string, ok bool) {
	parts := strings.Split(source, "/")
	if len(parts) != 3 && len(parts) != 5 || parts[0] != "" || parts[1] != "plant" {
		return "", "", false
	}
	if plant, ok = Name(parts[2]); !ok || plant == "" {
		return "", "", false
	}
	if len(parts) == 3 {
		return plant, "", true
	}
	station, ok = Name(parts[4])
	return plant, station, ok && station != "" && parts[3] == "station"
}
