"""Record to FHIR R4, CSV and chart note. Pure."""
