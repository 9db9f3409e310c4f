/* desk.h - a settings file on the desk: written, read, and what was said of it. */
#ifndef SLUICE_TESTS_SETTINGS_DESK_H
#define SLUICE_TESTS_SETTINGS_DESK_H

#include "../core/suite.h"
#include "quote/quote.h"
#include "settings/settings.h"

/* The section quote, as `sluice` reads it. */
extern const struct settings_more with_quote;

/* A house with one load of each kind, and nothing wrong with it. */
extern const char house[];

struct desk {
    char folder[64], path[96];
    struct settings *settings; /* NULL: refused */
    struct settings_troubles troubles;
};

/* Writes the bytes to a file and loads it, with the maps of conf/meters. */
void desk_load(struct desk *desk, const char *bytes, size_t size);
void desk_load_text(struct desk *desk, const char *text);
void desk_load_file(struct desk *desk, const char *path);
void desk_clear(struct desk *desk);

/* `text` with the first `was` replaced by `is`; `was` must be there. To be freed. */
char *replaced(const char *text, const char *was, const char *is);

/* Line and column, from 1, of the byte at `offset`; characters count, not bytes. */
void place_of_offset(const char *text, size_t offset, int *line, int *column);

/* Line and column at the end of a trouble's place; false: it has none. */
bool place_of_trouble(const struct trouble *trouble, int *line, int *column);

/* The whole of a file, ended by a NUL; to be freed. */
char *read_whole(const char *path);

#endif
