/* formats.c - the kinds of files, as rows, and all files read as one. */
#include "days/format.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "days/assemble.h"
#include "days/espi.h"
#include "days/found.h"
#include "days/nem12.h"
#include "days/report.h"
#include "days/table.h"

static bool begins(const unsigned char *start, size_t length, const char *mark, size_t mark_length)
{
    return length >= mark_length && memcmp(start, mark, mark_length) == 0;
}

static bool is_zip(const unsigned char *start, size_t length)
{
    return begins(start, length, "PK\x03\x04", 4);
}

static bool is_old_spreadsheet(const unsigned char *start, size_t length)
{
    return begins(start, length, "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", 8);
}

static bool is_pdf(const unsigned char *start, size_t length)
{
    return begins(start, length, "%PDF-", 5);
}

static bool is_gzip(const unsigned char *start, size_t length)
{
    return begins(start, length, "\x1f\x8b", 2);
}

/* First bytes: zip by PKWARE's APPNOTE 4.3.7, PDF by ISO 32000-1 7.5.2, gzip by RFC 1952
 * 2.3.1; OLE files by MS-CFB 2.2. */
static const struct days_format formats[] = {
    {"a zip archive", is_zip, NULL,
     "a spreadsheet (xlsx, ods): save it as CSV; an archive: unpack it"},
    {"an old spreadsheet", is_old_spreadsheet, NULL, "open it and save it as CSV"},
    {"a PDF", is_pdf, NULL, "ask for the interval data as CSV"},
    {"a gzip archive", is_gzip, NULL, "unpack it: gunzip FILE"},
    {"NEM12", days_nem12_is, days_nem12_read, NULL},
    {"Green Button", days_espi_is, days_espi_read, NULL},
    {"a table", NULL, days_table_read, NULL},
};

const struct days_format *days_format_of(const unsigned char *start, size_t length)
{
    const struct days_format *format = formats;
    while (format->is && !format->is(start, length))
        format++;
    return format;
}

/* Files are opened more than once, and a pipe has its bytes only once. */
static const char *read_opened(int file, unsigned char start[static DAYS_START_SIZE],
                               size_t *length)
{
    struct stat status;
    if (fstat(file, &status) != 0)
        return strerror(errno);
    if (!S_ISREG(status.st_mode) && !S_ISDIR(status.st_mode))
        return "a regular file is expected, no pipe or device: save it as a file first";
    ssize_t got = read(file, start, DAYS_START_SIZE);
    *length = got < 0 ? 0 : (size_t)got;
    return got < 0 ? strerror(errno) : NULL;
}

/* NULL, or why it cannot be read. */
static const char *read_start(const char *path, unsigned char start[static DAYS_START_SIZE],
                              size_t *length)
{
    /* A pipe that nobody writes to is not waited for. */
    int file = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (file < 0)
        return strerror(errno);
    const char *wrong = read_opened(file, start, length);
    close(file);
    return wrong;
}

static bool read_file(const struct days_file *file)
{
    unsigned char start[DAYS_START_SIZE];
    size_t length = 0;
    const char *wrong = read_start(file->path, start, &length);
    if (wrong) {
        days_stop(file->report, file->path, 0, "cannot be read: %s", wrong);
        return false;
    }
    const struct days_format *format = days_format_of(start, length);
    if (format->read)
        return format->read(file);
    days_stop(file->report, file->path, 0, "this is %s: %s", format->name, format->instead);
    return false;
}

struct reading {
    const char *const *paths;
    int count;
    struct days_options options; /* with what files turned out to be */
    struct days_channels *channels;
    struct days_found *found;
    bool weighed; /* somebody wants to see it */
    struct days_report *report;
    struct days_dialect dialect;
};

/* ---- once more, where it turns out otherwise -------------------------------------------- */

static bool read_once(struct reading *reading)
{
    bool read = true;
    days_channels_free(reading->channels);
    *reading->channels = (struct days_channels){0};
    *reading->report = (struct days_report){0};
    *reading->found = (struct days_found){.weighed = reading->weighed};
    reading->dialect.again = false;
    reading->options.clock = reading->dialect.clock;
    for (int k = 0; k < reading->count && read; k++) {
        const struct days_file file = {.path = reading->paths[k],
                                       .index = k,
                                       .options = &reading->options,
                                       .channels = reading->channels,
                                       .found = reading->found,
                                       .report = reading->report,
                                       .dialect = &reading->dialect};
        read = read_file(&file);
    }
    reading->found->clock = reading->dialect.clock;
    return read;
}

static bool read_until_sure(struct reading *reading)
{
    bool read = read_once(reading);
    for (int k = 0; k < 3 && reading->dialect.again; k++)
        read = read_once(reading);
    return read;
}

/* What share of the time that is covered has values: days read as months are far apart. */
static double filled(const struct reading *reading)
{
    size_t there = 0, all = 0;
    for (int k = 0; k < reading->channels->count; k++) {
        const struct days_channel *channel = &reading->channels->channel[k];
        all += channel->count;
        for (size_t i = 0; i < channel->count; i++)
            there += isfinite(channel->value[i]) != 0;
    }
    return all > 0 ? (double)there / (double)all : 0;
}

/* No day above the 12th: either order could be meant, unless one leaves days far apart. */
static bool read_either(struct reading *reading)
{
    const struct days_place place = reading->dialect.dates_seen;
    double day_first = filled(reading);
    reading->dialect.dates = DAYS_DATES_MDY;
    double month_first = read_once(reading) ? filled(reading) : 0;
    if ((day_first >= 0.5) == (month_first >= 0.5)) {
        days_stop(reading->report, reading->paths[place.file], place.line,
                  "is the day or the month first? --dates dmy or --dates mdy says which");
        return false;
    }
    if (day_first >= 0.5) {
        reading->dialect.dates = DAYS_DATES_DMY;
        read_once(reading);
    }
    days_notice(reading->report, reading->paths[place.file], place.line,
                "dates are read %s first, as the days follow each other then",
                day_first >= 0.5 ? "day" : "month");
    return true;
}

static bool read_all(struct reading *reading)
{
    struct days_dialect *dialect = &reading->dialect;
    bool read = read_until_sure(reading);
    if (read && dialect->dates_tried && dialect->dates == DAYS_DATES_DMY &&
        dialect->dates_seen.line > 0 && dialect->dates_proven.line == 0)
        read = read_either(reading);
    if (read && dialect->clock_told)
        days_notice(reading->report, reading->paths[dialect->clock_seen.file],
                    dialect->clock_seen.line,
                    "has an hour that clocks skip: it keeps standard time all year round, and is "
                    "read so");
    return read;
}

static bool read_files(struct reading *reading, struct days *days)
{
    return read_all(reading) && days_assemble(reading->channels, reading->paths, &reading->options,
                                              days, reading->found, reading->report);
}

bool days_read_files(const char *const paths[], int count, const struct days_options *options,
                     struct days *days, struct days_found *found, struct days_report *report)
{
    bool guess = options->dates == DAYS_DATES_BY_FORM;
    struct reading reading = {.paths = paths,
                              .count = count,
                              .options = *options,
                              .channels = calloc(1, sizeof(*reading.channels)),
                              .found = found ? found : calloc(1, sizeof(*found)),
                              .weighed = found != NULL,
                              .report = report,
                              .dialect = {.clock = options->clock,
                                          .dates = guess ? DAYS_DATES_DMY : options->dates,
                                          .dates_tried = guess}};
    bool read = false;
    *days = (struct days){0};
    *report = (struct days_report){0};
    if (reading.channels && reading.found)
        read = read_files(&reading, days);
    else
        days_stop(report, paths[0], 0, "out of memory");
    if (reading.channels)
        days_channels_free(reading.channels);
    free(reading.channels);
    if (!found)
        free(reading.found);
    return read;
}

bool days_read(const char *path, const struct days_options *options, struct days *days,
               struct days_report *report)
{
    return days_read_files(&path, 1, options, days, NULL, report);
}
