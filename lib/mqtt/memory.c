/* memory.c - a small file beside the ledger: "key value" lines.
 *
 *   broker HOST:PORT        boot ID          young N          alert ID ...
 *
 * Whatever a broker sends, the unit must not end in a circle of connecting and dying in
 * which nothing heats. So a connection is written down before it is begun, and taken back
 * when it has ended in good order or lasted: what is still there at the next start has
 * ended with the process. After two of these the broker is left alone for a while, longer
 * each time. A power cut is no death: the boot id tells. */
#include "mqtt/memory.h"

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
    FILE_SIZE = 512 + TREE_ALERTS_MAX * (MQTT_ID_MAX + 8),
};

int memory_hold_s(int deaths)
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

static void take_alert(struct memory *memory, const char *id)
{
    if (memory->alerts == TREE_ALERTS_MAX || strlen(id) >= MQTT_ID_MAX || !description_id_ok(id))
        return;
    strcpy(memory->alert[memory->alerts++], id);
}

void memory_read(struct memory *memory, const char *path, const struct mqtt_settings *settings)
{
    char line[LINE_SIZE], boot[BOOT_SIZE];
    bool same_broker = false, same_boot = false;
    *memory = (struct memory){.young = 0};
    struct text place = text_in(memory->place, sizeof(memory->place));
    struct text kept = text_in(memory->path, sizeof(memory->path));
    text_add(&place, "%s:%d", settings->host, settings->port);
    text_add(&kept, "%s", path);
    if (kept.full)
        memory->path[0] = '\0';
    FILE *file = memory->path[0] ? fopen(memory->path, "re") : NULL;
    if (!file)
        return;
    read_boot(boot);
    while (fgets(line, sizeof(line), file)) {
        const char *value;
        line[strcspn(line, "\n")] = '\0';
        if ((value = value_of(line, "broker")))
            same_broker = strcmp(value, memory->place) == 0;
        else if ((value = value_of(line, "boot")))
            same_boot = strcmp(value, boot) == 0;
        else if ((value = value_of(line, "young")))
            memory->young = atoi(value);
        else if ((value = value_of(line, "alert")))
            take_alert(memory, value);
    }
    fclose(file);
    bool counts = same_broker && same_boot && memory->young > 0 && memory->young <= DEATHS_MOST;
    if (!counts)
        memory->young = 0;
}

void memory_write(const struct memory *memory)
{
    char content[FILE_SIZE], boot[BOOT_SIZE];
    struct text text = text_in(content, sizeof(content));
    if (!memory->path[0])
        return;
    read_boot(boot);
    text_add(&text, "broker %s\nboot %s\nyoung %d\n", memory->place, boot, memory->young);
    for (int k = 0; k < memory->alerts; k++)
        text_add(&text, "alert %s\n", memory->alert[k]);
    int fd = open(memory->path, O_WRONLY | O_CREAT | O_CLOEXEC, 0640);
    if (fd < 0)
        return;
    if (pwrite(fd, content, text.used, 0) == (ssize_t)text.used)
        (void)!ftruncate(fd, (off_t)text.used);
    close(fd);
}

void memory_forget(const char *path, const struct mqtt_settings *settings)
{
    struct memory memory;
    memory_read(&memory, path, settings);
    memory.young = 0;
    memory_write(&memory);
}
