/* fields.h - a line as fields, and fields as numbers. Allocates nothing. */
#ifndef SLUICE_DAYS_FIELDS_H
#define SLUICE_DAYS_FIELDS_H

#include <stdbool.h>
#include <stddef.h>

enum { DAYS_FIELDS_MAX = 400 };

struct days_field { /* without blanks and quotes around it */
    const char *at;
    size_t length;
};

enum { DAYS_FIELDS_TOO_MANY = -1, DAYS_FIELDS_OPEN_QUOTE = -2 };

/* The number of fields, or one of the above. */
int days_fields_split(const char *line, size_t length, char separator,
                      struct days_field fields[static DAYS_FIELDS_MAX]);

/* ';' or a tab where the line has one outside quotes, else ','. */
char days_fields_separator(const char *line, size_t length);

enum days_number { DAYS_NUMBER, DAYS_NUMBER_MISSING, DAYS_NUMBER_NONE, DAYS_NUMBER_OTHER_MARK };

/* Missing: an empty field, NA, N/A, NaN, null, none or a dash. `mark` is the file's decimal mark: 0
 * until the first number tells it; `comma` says whether it may be a comma. */
enum days_number days_field_number(struct days_field field, bool comma, char *mark, double *value);

/* What a number with one mark in it tells of the mark, as thousands may be set apart too:
 * "1.234" could be either; "0.234", "1.23" and "1234.567" could not, nor could "1234". */
enum days_mark { DAYS_MARK_UNTOLD, DAYS_MARK_EITHER, DAYS_MARK_DECIMAL };
enum days_mark days_field_mark(struct days_field number);

bool days_field_is(struct days_field field, const char *word); /* letters of any case */

/* The field with an end to it, cut where it is long. */
enum { DAYS_QUOTE_SIZE = 40 };
const char *days_field_quote(struct days_field field, char buffer[static DAYS_QUOTE_SIZE]);

#endif
