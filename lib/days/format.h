/* format.h - the kinds of files that customers have, as rows: how one is known by its
 * first bytes, and what reads it. A new kind is one file of code and one row in
 * formats.c. */
#ifndef SLUICE_DAYS_FORMAT_H
#define SLUICE_DAYS_FORMAT_H

#include "days/channels.h"

enum { DAYS_START_SIZE = 512 };

/* What only whole files tell, and is told by no option: how dates and times are written.
 * A reader that finds that it is otherwise says so with `again`, and all files are read
 * once more. */
struct days_dialect {
    enum days_clock clock;
    enum days_dates dates;
    bool dates_tried; /* dates are a guess that has to prove itself */
    bool clock_told;  /* by the files, not by the options */
    bool again;
    struct days_place dates_seen, dates_proven, clock_seen; /* line 0: not seen */
};

/* What a reader is given. */
struct days_file {
    const char *path;
    int index; /* of the paths, from 0: what channels and puts want as `file` */
    const struct days_options *options;
    struct days_channels *channels; /* to be added to */
    struct days_found *found;       /* `how` may be added to */
    struct days_report *report;
    struct days_dialect *dialect; /* for tables */
};

struct days_format {
    const char *name; /* "NEM12" */
    /* By the first bytes of the file, at most DAYS_START_SIZE. */
    bool (*is)(const unsigned char *start, size_t length);
    /* False: a stop is in the report that makes the rest useless. Mistakes that concern
     * only a line are stops too, but reading goes on, and it is true. NULL: cannot be
     * read; `instead` says what to do. */
    bool (*read)(const struct days_file *file);
    const char *instead;
};

/* The first row that knows the file; the last one, a table, takes whatever is left. */
const struct days_format *days_format_of(const unsigned char *start, size_t length);

#endif
