/* run_record.c - a small file beside the ledger: "key value" lines.
 *
 *   broker HOST:PORT        boot ID          young N          alert ID ...
 *
 * Whatever a broker sends, the unit must not end in a circle of connecting and dying in
 * which nothing heats. So a connection is written down before it is begun, and taken back
 * when it has ended in good order or lasted: what is still there at the next start has
 * ended with the process. After two of these the broker is left alone for a while, longer
 * each time. A power cut is no death: the boot id tells. */
#include "mqtt/run_record.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "core/text.h"
#include "mqtt/description.h"

enum {
    DEATHS_BORNE = 2,
    HOLD_FIRST_S = 15 * 60,
    HOLD_MOST_S = 6 * 60 * 60,
    DEATHS_MOST = 100,
    BOOT_SIZE = 40,
    LINE_SIZE = 256,
    FILE_SIZE = 512 + HOMIE_ALERTS_MAX * (MQTT_ID_MAX + 8),
};

int run_record_hold_s(int deaths)
{
    int seconds = HOLD_FIRST_S;
    if (deaths < DEATHS_BORNE)
        return 0;
    for (int k = DEATHS_BORNE; k < deaths && seconds < HOLD_MOST_S; k++)
        seconds *= 2;
    return seconds < HOLD_MOST_S ? seconds : HOLD_MOST_S;
}

static void read_boot(char boot[static BOOT_SIZE])
{
    FILE *file = fopen("/proc/sys/kernel/random/boot_id", "re");
    if (!file || !fgets(boot, BOOT_SIZE, file))
        snprintf(boot, BOOT_SIZE, "unknown");
    boot[strcspn(boot, "\n")] = '\0';
    if (file)
        fclose(file);
}

/* What follows "KEY ", or NULL. */
static const char *value_of(const char *line, const char *key)
{
    size_t length = strlen(key);
    return strncmp(line, key, length) == 0 && line[length] == ' ' ? line + length + 1 : NULL;
}

static void take_alert(struct run_record *record, const char *id)
{
    if (record->alerts == HOMIE_ALERTS_MAX || strlen(id) >= MQTT_ID_MAX || !description_id_ok(id))
        return;
    strcpy(record->alert[record->alerts++], id);
}

void run_record_read(struct run_record *record, const char *path,
                     const struct mqtt_settings *settings)
{
    char line[LINE_SIZE], boot[BOOT_SIZE];
    bool same_broker = false, same_boot = false;
    *record = (struct run_record){.young = 0};
    struct text place = text_in(record->place, sizeof(record->place));
    struct text kept = text_in(record->path, sizeof(record->path));
    text_add(&place, "%s:%d", settings->host, settings->port);
    text_add(&kept, "%s", path);
    if (kept.full)
        record->path[0] = '\0';
    FILE *file = record->path[0] ? fopen(record->path, "re") : NULL;
    if (!file)
        return;
    read_boot(boot);
    while (fgets(line, sizeof(line), file)) {
        const char *value;
        line[strcspn(line, "\n")] = '\0';
        if ((value = value_of(line, "broker")))
            same_broker = strcmp(value, record->place) == 0;
        else if ((value = value_of(line, "boot")))
            same_boot = strcmp(value, boot) == 0;
        else if ((value = value_of(line, "young")))
            record->young = atoi(value);
        else if ((value = value_of(line, "alert")))
            take_alert(record, value);
    }
    fclose(file);
    bool counts = same_broker && same_boot && record->young > 0 && record->young <= DEATHS_MOST;
    if (!counts)
        record->young = 0;
}

void run_record_write(const struct run_record *record)
{
    char content[FILE_SIZE], boot[BOOT_SIZE];
    struct text text = text_in(content, sizeof(content));
    if (!record->path[0])
        return;
    read_boot(boot);
    text_add(&text, "broker %s\nboot %s\nyoung %d\n", record->place, boot, record->young);
    for (int k = 0; k < record->alerts; k++)
        text_add(&text, "alert %s\n", record->alert[k]);
    int fd = open(record->path, O_WRONLY | O_CREAT | O_CLOEXEC, 0640);
    if (fd < 0)
        return;
    if (pwrite(fd, content, text.used, 0) == (ssize_t)text.used)
        (void)!ftruncate(fd, (off_t)text.used);
    close(fd);
}

void run_record_forget(const char *path, const struct mqtt_settings *settings)
{
    struct run_record record;
    run_record_read(&record, path, settings);
    record.young = 0;
    run_record_write(&record);
}
