/* xml.h - an XML file of any size, element by element, in little memory.
 *
 * Hostile ones end in an error with their line: a document type (and with it entities
 * that grow), elements in elements without end, a tag of over a megabyte, a file that is
 * cut off. */
#ifndef SLUICE_DAYS_XML_H
#define SLUICE_DAYS_XML_H

#include "days/days.h"

enum { DAYS_XML_TEXT_MAX = 256, DAYS_XML_DEPTH_MAX = 64 };

/* Names are without the prefix of their namespace. False ends the reading. */
struct days_xml_reader {
    /* `attributes`: name, value, name, value, ..., NULL. */
    bool (*begin)(void *context, const char *name, const char *const *attributes, size_t line);
    /* `text`: what an element without others in it holds, without blanks around it; cut at
     * DAYS_XML_TEXT_MAX. */
    bool (*end)(void *context, const char *name, const char *text, size_t line);
};

/* False: a stop is in the report, or a function of the reader returned false. */
bool days_xml_read(const char *path, const struct days_xml_reader *reader, void *context,
                   struct days_report *report);

#endif
