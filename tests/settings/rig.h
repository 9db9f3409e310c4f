/* rig.h - settings files made of text, loaded, and asked what was wrong with them. */
#ifndef SLUICE_TESTS_SETTINGS_RIG_H
#define SLUICE_TESTS_SETTINGS_RIG_H

#include <stddef.h>

#include "quote/quote.h"
#include "settings/settings.h"

/* The section quote, as `sluice` reads it. */
extern const struct settings_more with_quote;

/* A small house that is accepted as it is. */
extern const char small_house[];

/* One change to a text, and what is then said: the place is where `at` first stands in
 * the changed text, or the file as a whole where it is NULL. */
struct mistake {
    const char *find, *write, *at, *says;
};

/* `text` with the first `find` replaced by `write`; the caller frees it. The test fails
 * where `find` is not there. */
char *edited(const char *text, const char *find, const char *write);

/* A file that lasts until the process ends, with these bytes; its name. */
const char *file_of_bytes(const char *bytes, size_t size);
const char *file_of(const char *text);

/* Loads a file made of `text`, with the shipped maps. */
struct settings *load_text(const char *text, struct settings_troubles *troubles);

/* Loads what must be accepted; the test prints what is wrong where it is not. */
struct settings *load_good(const char *text);

/* "FILE:LINE:COLUMN" of where `at` first stands in the text of the file made last; the
 * file as a whole where it is NULL. */
void place_of(const char *text, const char *at, char place[static TROUBLE_PLACE_MAX]);

/* Exactly this is wrong, and at this place. */
void expect_only(const char *text, const char *at, const char *says);

/* The same, but it need only have these words; where `at` first stands after `after`. */
void expect_only_words(const char *text, const char *after, const char *at, const char *words);

/* The small house with each change alone. */
void expect_mistakes(const struct mistake rows[], size_t count);

/* The small house with each change alone is accepted: only find and write count. */
void expect_accepted(const struct mistake rows[], size_t count);

/* Accepted, and this is noticed, at this place. */
void expect_notice(const char *text, const char *at, const char *says);
/* Accepted, and no notice has these words. */
void expect_no_notice(const char *text, const char *words);
void expect_notices(const struct mistake rows[], size_t count);

/* What a writer writes to a stream; the caller frees it. */
char *written_by(void (*write)(FILE *to, const void *context), const void *context);
char *described(const struct settings *settings);

#endif
