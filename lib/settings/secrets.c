/* secrets.c - a password or a private key that others than the daemon can read.
 *
 * It is told, not refused: a broker that is left because of a mode would be a worse
 * surprise. Root's group and the daemon's own are no others. */
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "settings.h"

/* Who can, or NULL. */
static const char *who_can_read(const char *path, gid_t ours)
{
    struct stat found;
    if (!strchr(path, '/') || stat(path, &found) != 0)
        return NULL; /* a credential of the service manager; or what connecting will tell */
    if (found.st_mode & S_IRWXO)
        return "everyone on this machine";
    if ((found.st_mode & S_IRWXG) && found.st_gid != 0 && found.st_gid != ours)
        return "a group that is not sluice's";
    return NULL;
}

bool settings_secret_open(const struct settings *settings, gid_t ours, struct text *text)
{
    const char *const files[] = {settings->mqtt.password_file, settings->mqtt.key_file};
    bool open = false;
    for (size_t k = 0; k < sizeof(files) / sizeof(files[0]); k++) {
        const char *who = who_can_read(files[k], ours);
        if (!who)
            continue;
        text_add(text, "%s%s is open to %s: chgrp sluice and chmod 640 close it", open ? "; " : "",
                 files[k], who);
        open = true;
    }
    return open;
}
