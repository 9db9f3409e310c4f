/* as_set.c - the settings byte for byte, and by which figure they can be known again. */
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "sha256.h"
#include "sheets.h"

static void tell_source(const char *what, const struct settings_source *source, struct paper *paper)
{
    char sum[SHA256_TEXT_SIZE];
    sha256_text(source->bytes, source->size, sum);
    paper_item(paper, "%s: %zu bytes, SHA-256 %s", what, source->size, sum);
}

static void tell_maps(const struct settings *settings, struct paper *paper)
{
    for (uint8_t k = 0; k < settings->meter_count; k++) {
        const struct meter_settings *meter = &settings->meters[k];
        char what[80];
        struct text text = text_in(what, sizeof(what));
        bool before = false;
        for (uint8_t other = 0; other < k; other++)
            before |= strcmp(settings->meters[other].map_name, meter->map_name) == 0;
        if (!meter->map_source.bytes || before)
            continue;
        text_add(&text, "Register map %s", meter->map_name);
        tell_source(what, &meter->map_source, paper);
    }
}

static void write_changed(const char *path, struct text *text)
{
    char moment[32];
    struct stat found;
    struct tm utc;
    if (stat(path, &found) != 0 || !gmtime_r(&found.st_mtim.tv_sec, &utc))
        return;
    strftime(moment, sizeof(moment), "%Y-%m-%d %H:%M UTC", &utc);
    text_add(text, ", last changed %s", moment);
}

void as_set_write(const struct house *house, struct paper *paper)
{
    const struct settings_source *source = &house->settings->source;
    char aside[96], what[400];
    struct text text = text_in(aside, sizeof(aside));
    text_add(&text, "sluice " SLUICE_VERSION "; printed %s", house->printed);
    paper_page(paper, "Settings as they are", aside);
    text = text_in(what, sizeof(what));
    text_add(&text, "%s", house->path);
    write_changed(house->path, &text);
    paper_list_begin(paper);
    tell_source(what, source, paper);
    tell_maps(house->settings, paper);
    paper_list_end(paper);
    paper_verbatim(paper, source->bytes, source->size);
}
