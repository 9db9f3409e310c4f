/* rig.c - a house of a few lines, and one thing wrong with it at a time. */
#include "rig.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* Each value stands once, so that a change can name it. */
static struct quote_settings quote;
const struct settings_more with_quote = {&quote_section, &quote};

const char small_house[] = "site:\n"
                           "  timezone: Australia/Sydney\n"
                           "  phases: 1\n"
                           "  supply_limit: 63 A\n"
                           "tariff:\n"
                           "  import:\n"
                           "    - {price: 0.30 /kWh}\n"
                           "    - {price: 0.20 /kWh, hours: \"22:00-07:00\"}\n"
                           "buses:\n"
                           "  board: {port: /dev/ttyS9}\n"
                           "  lan: {host: 192.0.2.7}\n"
                           "meters:\n"
                           "  grid: {role: grid, bus: board, unit: 2, map: sunspec}\n"
                           "groups:\n"
                           "  shed: {limit: 32 A}\n"
                           "loads:\n"
                           "  heater:\n"
                           "    power: 3.6 kW\n"
                           "    thermostat: yes\n"
                           "    output: {bus: board, unit: 10, address: 0}\n"
                           "    floors:\n"
                           "      - {amount: 3 h, by: \"17:00\"}\n"
                           "  pump:\n"
                           "    power: 1.1 kW\n"
                           "    group: shed\n"
                           "    output: {bus: board, unit: 10, address: 1}\n"
                           "  car:\n"
                           "    kind: setpoint\n"
                           "    power: 16 A\n"
                           "    least: 6 A\n"
                           "    output: {kind: register, bus: lan, address: 7, "
                           "count_current: 100 mA}\n"
                           "mqtt:\n"
                           "  host: localhost\n";

char *edited(const char *text, const char *find, const char *write)
{
    const char *at = strstr(text, find);
    ck_assert_msg(at != NULL, "\"%s\" is not in the text", find);
    size_t before = (size_t)(at - text), length = strlen(text) - strlen(find) + strlen(write);
    char *changed = malloc(length + 1);
    memcpy(changed, text, before);
    strcpy(changed + before, write);
    strcat(changed, at + strlen(find));
    return changed;
}

/* ---- files ---------------------------------------------------------------------------------- */

static char path[] = "/tmp/sluice-settings-XXXXXX.yaml";

static void remove_file(void)
{
    unlink(path);
}

/* One file a process: Check runs each test in its own, and none needs two at once. */
const char *file_of_bytes(const char *bytes, size_t size)
{
    static bool made;
    if (!made) {
        int descriptor = mkstemps(path, 5);
        ck_assert_int_ge(descriptor, 0);
        close(descriptor);
        atexit(remove_file);
        made = true;
    }
    FILE *file = fopen(path, "we");
    ck_assert_ptr_nonnull(file);
    ck_assert_uint_eq(fwrite(bytes, 1, size, file), size);
    ck_assert_int_eq(fclose(file), 0);
    return path;
}

const char *file_of(const char *text)
{
    return file_of_bytes(text, strlen(text));
}

/* ---- loading -------------------------------------------------------------------------------- */

struct settings *load_text(const char *text, struct settings_troubles *troubles)
{
    *troubles = (struct settings_troubles){0};
    return settings_load(file_of(text), MAPS_DIR, &with_quote, troubles);
}

static void print_all(const struct settings_troubles *troubles, char all[static 4096])
{
    size_t used = 0;
    all[0] = '\0';
    for (int k = 0; k < troubles->count && used < 4096; k++)
        used += (size_t)snprintf(all + used, 4096 - used, "\n%s: %s", troubles->item[k].place,
                                 troubles->item[k].text);
}

struct settings *load_good(const char *text)
{
    struct settings_troubles troubles;
    char all[4096];
    struct settings *settings = load_text(text, &troubles);
    print_all(&troubles, all);
    ck_assert_msg(settings != NULL, "it is not accepted:%s\n%.2000s", all, text);
    ck_assert_msg(troubles.count == 0, "accepted with troubles:%s", all);
    settings_troubles_free(&troubles);
    return settings;
}

/* Lines and columns count from 1, columns in characters. */
void place_of(const char *text, const char *at, char place[static TROUBLE_PLACE_MAX])
{
    int line = 1, column = 1;
    if (!at) {
        snprintf(place, TROUBLE_PLACE_MAX, "%s", path);
        return;
    }
    const char *found = strstr(text, at);
    ck_assert_msg(found != NULL, "\"%s\" is not in:\n%s", at, text);
    for (const char *c = text; c < found; c++) {
        if (*c == '\n')
            line++, column = 0;
        column += ((unsigned char)*c & 0xc0) != 0x80;
    }
    snprintf(place, TROUBLE_PLACE_MAX, "%s:%d:%d", path, line, column);
}

void expect_only(const char *text, const char *at, const char *says)
{
    struct settings_troubles troubles;
    char place[TROUBLE_PLACE_MAX], all[4096];
    struct settings *settings = load_text(text, &troubles);
    place_of(text, at, place);
    print_all(&troubles, all);
    ck_assert_msg(!settings, "accepted, but \"%s\" was expected of\n%s", says, text);
    ck_assert_msg(troubles.count == 1, "one trouble was expected:\n%s: %s\nnot %d:%s", place, says,
                  troubles.count, all);
    ck_assert_msg(strcmp(troubles.item[0].text, says) == 0 &&
                      strcmp(troubles.item[0].place, place) == 0,
                  "expected:\n%s: %s\nfound:%s", place, says, all);
    settings_troubles_free(&troubles);
}

void expect_only_words(const char *text, const char *after, const char *at, const char *words)
{
    const char *from = strstr(text, after), *there = from ? strstr(from + strlen(after), at) : NULL;
    struct settings_troubles troubles = {0};
    char place[TROUBLE_PLACE_MAX];
    ck_assert_msg(there != NULL, "%s", at);
    struct settings *settings = load_text(text, &troubles);
    ck_assert_msg(!settings && troubles.count == 1, "%s: %d troubles: %s", words, troubles.count,
                  troubles.count ? troubles.item[troubles.count - 1].text : "");
    place_of(text, there, place);
    ck_assert_str_eq(troubles.item[0].place, place);
    ck_assert_msg(strstr(troubles.item[0].text, words) != NULL, "%s", troubles.item[0].text);
    settings_troubles_free(&troubles);
}

void expect_mistakes(const struct mistake rows[], size_t count)
{
    for (size_t k = 0; k < count; k++) {
        char *text = edited(small_house, rows[k].find, rows[k].write);
        expect_only(text, rows[k].at, rows[k].says);
        free(text);
    }
}

void expect_accepted(const struct mistake rows[], size_t count)
{
    for (size_t k = 0; k < count; k++) {
        char *text = edited(small_house, rows[k].find, rows[k].write);
        settings_free(load_good(text));
        free(text);
    }
}

/* ---- notices --------------------------------------------------------------------------------- */

void expect_notice(const char *text, const char *at, const char *says)
{
    struct settings *settings = load_good(text);
    char place[TROUBLE_PLACE_MAX], all[4096];
    bool found = false;
    place_of(text, at, place);
    for (int k = 0; k < settings->notices.count; k++)
        found |= strcmp(settings->notices.item[k].text, says) == 0 &&
                 strcmp(settings->notices.item[k].place, place) == 0;
    print_all(&settings->notices, all);
    ck_assert_msg(found, "expected:\n%s: %s\nfound:%s", place, says, all);
    settings_free(settings);
}

void expect_no_notice(const char *text, const char *words)
{
    struct settings *settings = load_good(text);
    char all[4096];
    print_all(&settings->notices, all);
    ck_assert_msg(!strstr(all, words), "\"%s\" is noticed:%s", words, all);
    settings_free(settings);
}

void expect_notices(const struct mistake rows[], size_t count)
{
    for (size_t k = 0; k < count; k++) {
        char *text = edited(small_house, rows[k].find, rows[k].write);
        expect_notice(text, rows[k].at, rows[k].says);
        free(text);
    }
}

/* ---- what is written ------------------------------------------------------------------------- */

char *written_by(void (*write)(FILE *to, const void *context), const void *context)
{
    char *text = NULL;
    size_t size = 0;
    FILE *to = open_memstream(&text, &size);
    ck_assert_ptr_nonnull(to);
    write(to, context);
    fclose(to);
    return text;
}

static void write_description(FILE *to, const void *context)
{
    settings_describe(context, to);
}

char *described(const struct settings *settings)
{
    return written_by(write_description, settings);
}
