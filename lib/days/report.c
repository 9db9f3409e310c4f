/* report.c - collects what is to be told about files of days.
 *
 * A file with one mistake usually has more of them, and whoever mends it wants to see
 * several at once; a file with a mistake on every line must not fill a screen. So there
 * is room for some, and the rest is counted. Stops push out notices. */
#include "days/report.h"

#include <stdarg.h>
#include <string.h>

#include "core/text.h"
#include "days/found.h"

/* The end of a long path is what tells files apart. */
static void write_place(char place[static TROUBLE_PLACE_MAX], const char *path, size_t line)
{
    const size_t most = TROUBLE_PLACE_MAX - 32;
    size_t length = strlen(path);
    struct text text = text_in(place, TROUBLE_PLACE_MAX);
    text_add(&text, "%s%s", length > most ? "..." : "",
             length > most ? path + length - most : path);
    if (line > 0)
        text_add(&text, ":%zu", line);
}

static int free_place(struct days_report *report, bool stop)
{
    if (report->count < DAYS_REPORT_MAX)
        return report->count++;
    report->untold++;
    for (int k = report->count - 1; stop && k >= 0; k--)
        if (!report->stops[k])
            return k;
    return -1;
}

static void add(struct days_report *report, bool stop, const char *path, size_t line,
                const char *format, va_list arguments)
{
    int index = free_place(report, stop);
    report->stop_count += stop;
    if (index < 0)
        return;
    struct trouble *trouble = &report->item[index];
    struct text text = text_in(trouble->text, sizeof(trouble->text));
    write_place(trouble->place, path, line);
    text_add_list(&text, format, arguments);
    report->stops[index] = stop;
}

void days_stop(struct days_report *report, const char *path, size_t line, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    add(report, true, path, line, format, arguments);
    va_end(arguments);
}

void days_notice(struct days_report *report, const char *path, size_t line, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    add(report, false, path, line, format, arguments);
    va_end(arguments);
}

/* How files were read is of use, but no more than that: what does not fit is left out. */
void days_found_how(struct days_found *found, const char *path, size_t line, const char *format,
                    ...)
{
    if (!found || found->how_count == DAYS_HOW_MAX)
        return;
    struct trouble *trouble = &found->how[found->how_count++];
    struct text text = text_in(trouble->text, sizeof(trouble->text));
    va_list arguments;
    va_start(arguments, format);
    write_place(trouble->place, path, line);
    text_add_list(&text, format, arguments);
    va_end(arguments);
}
