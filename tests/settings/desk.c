#include "desk.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

static struct quote_settings quote;
const struct settings_more with_quote = {&quote_section, &quote};

const char house[] = "site:\n"
                     "  name: Wattle house\n"
                     "  timezone: Australia/Sydney\n"
                     "  phases: 3\n"
                     "  billing: net\n"
                     "  voltage: 230 V\n"
                     "  supply_limit: 63 A\n"
                     "  quiet: \"22:00-06:00\"\n"
                     "tariff:\n"
                     "  feed_in: 0.05 /kWh\n"
                     "  import:\n"
                     "    - {price: 0.30 /kWh}\n"
                     "    - {price: 0.45 /kWh, hours: \"mon-fri 15:00-21:00\", months: nov-mar}\n"
                     "buses:\n"
                     "  switchboard: {port: /dev/sluice-meter, baud: 9600, parity: none}\n"
                     "  lan: {host: 192.0.2.10, tcp_port: 1502}\n"
                     "meters:\n"
                     "  grid: {role: grid, bus: switchboard, unit: 1, map: eastron-sdm630}\n"
                     "  roof: {role: solar, bus: lan, unit: 2, map: sunspec, every: 5 s}\n"
                     "  pool: {role: load, load: pool-pump, bus: lan, unit: 3, map: sunspec}\n"
                     "groups:\n"
                     "  shed: {limit: 32 A}\n"
                     "loads:\n"
                     "  water-heater:\n"
                     "    title: Water heater\n"
                     "    priority: 2\n"
                     "    power: 3.6 kW\n"
                     "    phases: L1\n"
                     "    thermostat: yes\n"
                     "    hours: [\"mon-fri 07:00-21:00\", \"sat,sun 08:00-21:00\"]\n"
                     "    output: {kind: coil, bus: switchboard, unit: 10, address: 0}\n"
                     "    floors:\n"
                     "      - {amount: 3 h, by: \"17:00\", grid: cheapest_hours}\n"
                     "      - {measure: satisfied, amount: 4 h, by: \"17:00\", every_days: 7}\n"
                     "  charger:\n"
                     "    kind: setpoint\n"
                     "    priority: 1\n"
                     "    power: 32 A\n"
                     "    phases: [L1, L2, L3]\n"
                     "    least: 6 A\n"
                     "    group: shed\n"
                     "    output: {kind: register, bus: lan, unit: 20, address: 100, "
                     "count_current: 100 mA}\n"
                     "    floors:\n"
                     "      - {measure: energy, amount: 8 kWh, by: \"06:30\", days: mon-fri}\n"
                     "  shed-heater:\n"
                     "    kind: staged\n"
                     "    priority: 3\n"
                     "    phases: L2\n"
                     "    stages: [1 kW, 1.5 kW]\n"
                     "    group: shed\n"
                     "    output: {kind: coil, bus: switchboard, unit: 10, address: [4, 5]}\n"
                     "  pool-pump:\n"
                     "    priority: 3\n"
                     "    power: 1.1 kW\n"
                     "    phases: L3\n"
                     "    output: {kind: line, line: 17}\n"
                     "  heat-pump:\n"
                     "    kind: request\n"
                     "    power: 1.8 kW\n"
                     "    phases: L2\n"
                     "    output: {kind: topic, topic: yard/pump/set}\n"
                     "mqtt:\n"
                     "  host: broker.home.arpa\n"
                     "storage:\n"
                     "  history: 30 d\n";

static void write_bytes(const char *path, const char *bytes, size_t size)
{
    FILE *file = fopen(path, "we");
    ck_assert_ptr_nonnull(file);
    ck_assert_uint_eq(fwrite(bytes, 1, size, file), size);
    ck_assert_int_eq(fclose(file), 0);
}

void desk_load_file(struct desk *desk, const char *path)
{
    *desk = (struct desk){.settings = NULL};
    desk->settings = settings_load(path, MAPS_DIR, &with_quote, &desk->troubles);
    /* Accepted or refused, never something between. */
    ck_assert_int_eq(desk->settings != NULL, desk->troubles.count == 0);
}

void desk_load(struct desk *desk, const char *bytes, size_t size)
{
    char folder[] = "/tmp/sluice-settings-XXXXXX", path[96];
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(path, sizeof(path), "%s/sluice.yaml", folder);
    write_bytes(path, bytes, size);
    desk_load_file(desk, path);
    snprintf(desk->folder, sizeof(desk->folder), "%s", folder);
    snprintf(desk->path, sizeof(desk->path), "%s", path);
    unlink(path);
    rmdir(folder);
}

void desk_load_text(struct desk *desk, const char *text)
{
    desk_load(desk, text, strlen(text));
}

void desk_clear(struct desk *desk)
{
    settings_free(desk->settings);
    settings_troubles_free(&desk->troubles);
}

char *replaced(const char *text, const char *was, const char *is)
{
    const char *at = strstr(text, was);
    char *copy = malloc(strlen(text) + strlen(is) + 1);
    ck_assert_msg(at != NULL, "\"%s\" is not in the text", was);
    ck_assert_ptr_nonnull(copy);
    sprintf(copy, "%.*s%s%s", (int)(at - text), text, is, at + strlen(was));
    return copy;
}

void place_of_offset(const char *text, size_t offset, int *line, int *column)
{
    *line = *column = 1;
    for (size_t at = 0; at < offset; at++) {
        if (text[at] == '\n') {
            ++*line;
            *column = 1;
        } else if ((text[at] & 0xc0) != 0x80) {
            ++*column;
        }
    }
}

bool place_of_trouble(const struct trouble *trouble, int *line, int *column)
{
    const char *colon = strchr(trouble->place, ':');
    return colon && sscanf(colon, ":%d:%d", line, column) == 2;
}

char *read_whole(const char *path)
{
    FILE *file = fopen(path, "re");
    ck_assert_ptr_nonnull(file);
    ck_assert_int_eq(fseek(file, 0, SEEK_END), 0);
    long size = ftell(file);
    rewind(file);
    char *text = malloc((size_t)size + 1);
    ck_assert_ptr_nonnull(text);
    ck_assert_uint_eq(fread(text, 1, (size_t)size, file), (size_t)size);
    text[size] = '\0';
    fclose(file);
    return text;
}
