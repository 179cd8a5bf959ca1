package export_test

import (
	"encoding/xml"
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// A rule is what a standard says of one element: which elements stand in it, in which order and how often, what its text
// looks like, and which attributes it has. Of what a standard leaves optional, a rule has only what Tussock writes.
type rule struct {
	children string // "a b? (c|d)+ e*"; "" is none
	text     string // a regular expression for all of it; "" is none
	attrs    string // "name=expression", apart by spaces; a name with ? may be missing
}

// The forms of text that both standards use, after W3C XML Schema Part 2: Datatypes.
const (
	anyText  = `[\s\S]*`
	someText = `[\s\S]*\S[\s\S]*`               // a NonEmptyString
	yearDate = `\d{4}(-\d\d-\d\d)?`             // a gYear or a date
	whole    = `\d+`                            // an int that is not negative
	float    = `-?\d+(\.\d+)?([eE][-+]?\d+)?`   // a float
	uri      = `[a-z][a-z0-9+.-]*:\S+|[\w./-]+` // an anyURI
)

// Ecological Metadata Language, version 2.2.0, https://eml.ecoinformatics.org/eml-2.2.0: the modules eml, eml-resource,
// eml-dataset, eml-party, eml-coverage, eml-methods, eml-text, eml-entity, eml-physical and eml-attribute.
var emlRules = map[string]rule{
	"eml":     {children: "dataset", attrs: `packageId=.+ system=.+ lang?=[a-zA-Z-]+ schemaLocation?=.+`},
	"dataset": {children: "alternateIdentifier* title+ creator+ pubDate? language? abstract? keywordSet* additionalInfo* intellectualRights? coverage? maintenance? contact+ publisher? methods? dataTable*"},

	"alternateIdentifier": {text: anyText},
	"title":               {text: someText},
	"creator":             {children: "organizationName+"},
	"contact":             {children: "organizationName+"},
	"publisher":           {children: "organizationName+"},
	"organizationName":    {text: someText},
	"pubDate":             {text: yearDate},
	"language":            {text: someText},
	"abstract":            {children: "para+"},
	"keywordSet":          {children: "keyword+"},
	"keyword":             {text: someText},
	"additionalInfo":      {children: "para+"},
	"intellectualRights":  {children: "para+"},
	"para":                {text: anyText},

	"coverage":                {children: "(temporalCoverage|taxonomicCoverage)+"},
	"temporalCoverage":        {children: "(singleDateTime+|rangeOfDates)"},
	"singleDateTime":          {children: "calendarDate"},
	"rangeOfDates":            {children: "beginDate endDate"},
	"beginDate":               {children: "calendarDate"},
	"endDate":                 {children: "calendarDate"},
	"calendarDate":            {text: yearDate},
	"taxonomicCoverage":       {children: "generalTaxonomicCoverage? taxonomicClassification+"},
	"taxonomicClassification": {children: "taxonRankName? taxonRankValue? commonName*"},

	"generalTaxonomicCoverage": {text: someText},
	"taxonRankName":            {text: someText},
	"taxonRankValue":           {text: someText},
	"commonName":               {text: someText},

	"maintenance":                {children: "description maintenanceUpdateFrequency?"},
	"maintenanceUpdateFrequency": {text: "annually|asNeeded|biannually|continually|daily|irregular|monthly|notPlanned|weekly|unknown|otherMaintenancePeriod"},
	"methods":                    {children: "methodStep+"},
	"methodStep":                 {children: "description"},
	"description":                {children: "para+"},

	"dataTable":         {children: "entityName entityDescription? physical* attributeList numberOfRecords?"},
	"entityName":        {text: someText},
	"entityDescription": {text: someText},
	"numberOfRecords":   {text: someText},

	"physical":             {children: "objectName size? authentication* characterEncoding? dataFormat"},
	"objectName":           {text: someText},
	"size":                 {text: anyText, attrs: `unit?=.+`},
	"authentication":       {text: anyText, attrs: `method?=.+`},
	"characterEncoding":    {text: someText},
	"dataFormat":           {children: "textFormat"},
	"textFormat":           {children: "numHeaderLines? recordDelimiter* attributeOrientation simpleDelimited"},
	"numHeaderLines":       {text: whole},
	"recordDelimiter":      {text: anyText},
	"attributeOrientation": {text: "column|row"},
	"simpleDelimited":      {children: "fieldDelimiter+ quoteCharacter*"},
	"fieldDelimiter":       {text: someText},
	"quoteCharacter":       {text: someText},

	"attributeList":       {children: "attribute+"},
	"attribute":           {children: "attributeName attributeLabel* attributeDefinition measurementScale"},
	"attributeName":       {text: someText},
	"attributeLabel":      {text: someText},
	"attributeDefinition": {text: someText},
	"measurementScale":    {children: "(nominal|ratio|dateTime)"},
	"nominal":             {children: "nonNumericDomain"},
	"nonNumericDomain":    {children: "(enumeratedDomain|textDomain)+"},
	"enumeratedDomain":    {children: "codeDefinition+"},
	"codeDefinition":      {children: "code definition"},
	"code":                {text: someText},
	"textDomain":          {children: "definition"},
	"definition":          {text: someText},
	"ratio":               {children: "unit numericDomain"},
	"unit":                {children: "standardUnit"},
	"standardUnit":        {text: "dimensionless"}, // the only one of the unit dictionary that Tussock names
	"numericDomain":       {children: "numberType bounds*"},
	"numberType":          {text: "natural|whole|integer|real"},
	"bounds":              {children: "minimum?"},
	"minimum":             {text: float, attrs: `exclusive=true|false|0|1`},
	"dateTime":            {children: "formatString"},
	"formatString":        {text: someText},
}

// Darwin Core Text Guide, http://rs.tdwg.org/dwc/text/, sections 2.1 to 2.5.
var darwinCoreRules = map[string]rule{
	"archive":   {children: "core extension*", attrs: `metadata?=` + uri},
	"core":      {children: "files id? field+", attrs: fileAttrs},
	"extension": {children: "files coreid field+", attrs: fileAttrs},
	"files":     {children: "location+"},
	"location":  {text: someText},
	"id":        {attrs: `index?=` + whole},
	"coreid":    {attrs: `index?=` + whole},
	"field":     {attrs: `index?=` + whole + ` term=` + uri},
}

const fileAttrs = `rowType=` + uri + ` encoding?=.+ linesTerminatedBy?=.+ fieldsTerminatedBy?=.+ fieldsEnclosedBy?=.? ignoreHeaderLines?=` + whole

// A node is an element as it was read.
type node struct {
	XMLName xml.Name
	Attrs   []xml.Attr `xml:",any,attr"`
	Text    string     `xml:",chardata"`
	Kids    []node     `xml:",any"`
}

// faults lists what in n and below it breaks the rules.
func (n node) faults(rules map[string]rule) []string {
	name := n.XMLName.Local
	r, ok := rules[name]
	if !ok {
		return []string{"an element " + name}
	}
	var list []string
	var names strings.Builder
	for _, k := range n.Kids {
		names.WriteString(k.XMLName.Local + ",")
		list = append(list, k.faults(rules)...)
	}
	order := strings.ReplaceAll(regexp.MustCompile(`\w+`).ReplaceAllString(r.children, `(?:$0,)`), " ", "")
	if !matches(order, names.String()) {
		list = append(list, fmt.Sprintf("%s holds %q, not %q", name, names.String(), r.children))
	}
	text := n.Text
	if len(n.Kids) > 0 {
		text = strings.TrimSpace(text) // between elements
	}
	if !matches(r.text, text) {
		list = append(list, fmt.Sprintf("%s says %q", name, text))
	}
	return append(list, n.wrongAttrs(r)...)
}

func (n node) wrongAttrs(r rule) []string {
	var list []string
	there := map[string]string{}
	for _, a := range n.Attrs {
		if a.Name.Space != "xmlns" && a.Name.Local != "xmlns" {
			there[a.Name.Local] = a.Value
		}
	}
	for _, a := range strings.Fields(r.attrs) {
		name, form, _ := strings.Cut(a, "=")
		name, optional := strings.CutSuffix(name, "?")
		value, ok := there[name]
		if !ok && !optional || ok && !matches(form, value) {
			list = append(list, fmt.Sprintf("%s has %s=%q", n.XMLName.Local, name, value))
		}
		delete(there, name)
	}
	for name := range there {
		list = append(list, fmt.Sprintf("%s has an attribute %s", n.XMLName.Local, name))
	}
	return list
}

func matches(form, s string) bool { return regexp.MustCompile(`^(?:` + form + `)$`).MatchString(s) }

// foreign lists the elements whose namespace is not the one that the standard gives them.
func (n node) foreign(root, below string) []string {
	var list []string
	if n.XMLName.Space != root {
		list = append(list, n.XMLName.Local+" in the namespace "+n.XMLName.Space)
	}
	for _, k := range n.Kids {
		list = append(list, k.foreign(below, below)...)
	}
	return list
}

// The metadata of archives keep to the standards, libxml2 reads them too, and the rules would have noticed a fault.
func TestArchiveXML(t *testing.T) {
	lint := tool(t, "xmllint", "libxml2-utils")
	const emlSpace, dwcSpace = "https://eml.ecoinformatics.org/eml-2.2.0", "http://rs.tdwg.org/dwc/text/"
	for _, tt := range []struct {
		file, root, space, below string
		rules                    map[string]rule
		wrong                    [][2]string // a regular expression and what it becomes
	}{
		// In EML only the outermost element has the namespace.
		{"eml.xml", "eml", emlSpace, "", emlRules, [][2]string{
			{"<(/?)title>", "<${1}headline>"},
			{"<title>.*</title>", ""},
			{"<title>.*</title>", "<title> </title>"},
			{"(?s)(<title>.*?</title>)(.*?)(<creator>.*?</creator>)", "$3$2$1"},
			{"<pubDate>.*</pubDate>", "<pubDate>May 3, 2026</pubDate>"},
			{"asNeeded", "sometimes"},
			{` packageId="[^"]*"`, ""},
			{"(?s)<contact>.*?</contact>", ""},
		}},
		{"meta.xml", "archive", dwcSpace, dwcSpace, darwinCoreRules, [][2]string{
			{"<(/?)core", "<${1}kernel"},
			{`(?s)<core.*?</core>`, ""},
			{`(?s)<coreid.*?</coreid>`, ""},
			{`(?s)(<files>.*?</files>)(\s*)(<id .*?</id>)`, "$3$2$1"},
			{` term="[^"]*"`, ""},
			{` index="\d+"`, ` index="first"`},
			{` xmlns="[^"]*"`, ` xmlns="http://example.org/"`},
		}},
	} {
		check := func(text []byte) []string {
			var root node
			if err := xml.Unmarshal(text, &root); err != nil {
				return []string{err.Error()}
			}
			list := append(root.faults(tt.rules), root.foreign(tt.space, tt.below)...)
			if root.XMLName.Local != tt.root {
				list = append(list, "the outermost element is "+root.XMLName.Local)
			}
			return list
		}
		for name, make := range map[string]func() ([]byte, error){"own": sample().DarwinCore, "bulletin": sampleBulletin().DarwinCore} {
			archive := made(t, make)
			output(t, lint, "--noout", "--nonet", filepath.Join(folder(t, archive), tt.file))
			text := unzipped(t, archive)[tt.file]
			for _, f := range check(text) {
				t.Errorf("%s %s: %s", name, tt.file, f)
			}
			for _, w := range tt.wrong {
				broken := regexp.MustCompile(w[0]).ReplaceAll(text, []byte(w[1]))
				if string(broken) == string(text) {
					t.Errorf("%s %s: %s is nowhere", name, tt.file, w[0])
				} else if len(check(broken)) == 0 {
					t.Errorf("%s %s: %s as %q went unnoticed", name, tt.file, w[0], w[1])
				}
			}
		}
	}
}
