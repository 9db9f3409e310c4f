/* mosquitto_client.c - who we are to the broker: name, password, certificates.
 *
 * Files are looked at anew for each connection, so that a credential that comes late
 * or is exchanged is found without a restart. libmosquitto tells an unreadable file
 * apart from nothing at all; so we look first and say which file and why. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "core/text.h"
#include "mqtt/mosquitto_client.h"

enum { PASSWORD_MAX = 256, PATH_SIZE = 512 };

/* Where Debian and its kin keep the authorities that everybody trusts. */
static const char SYSTEM_AUTHORITIES[] = "/etc/ssl/certs";

static bool file_trouble(struct trouble *trouble, const char *what, const char *path,
                         const char *why)
{
    return trouble_set(trouble, "", "%s %s: %s", what, path, why);
}

/* LoadCredential= of systemd.exec(5) puts credentials into a folder named so. */
static void credential_path(const char *file, char path[static PATH_SIZE])
{
    const char *folder = secure_getenv("CREDENTIALS_DIRECTORY");
    struct text text = text_in(path, PATH_SIZE);
    if (folder && !strchr(file, '/'))
        text_add(&text, "%s/", folder);
    text_add(&text, "%s", file);
}

static bool read_password(const char *file, char password[static PASSWORD_MAX],
                          struct trouble *trouble)
{
    char path[PATH_SIZE];
    credential_path(file, path);
    FILE *stream = fopen(path, "re");
    if (!stream)
        return file_trouble(trouble, "password file", path, strerror(errno));
    setvbuf(stream, NULL, _IONBF, 0); /* no copy of it in a buffer that is freed */
    char *line = fgets(password, PASSWORD_MAX, stream);
    int error = ferror(stream) ? errno : 0;
    fclose(stream);
    if (error)
        return file_trouble(trouble, "password file", path, strerror(error));
    if (!line)
        password[0] = '\0';
    password[strcspn(password, "\r\n")] = '\0';
    return password[0] || file_trouble(trouble, "password file", path, "it is empty");
}

static bool set_password(const struct mqtt_settings *settings, struct mosquitto *client,
                         struct trouble *trouble)
{
    char password[PASSWORD_MAX] = "";
    if (!settings->user[0])
        return true;
    if (settings->password_file[0] && !read_password(settings->password_file, password, trouble))
        return false;
    int code = mosquitto_username_pw_set(client, settings->user, password[0] ? password : NULL);
    explicit_bzero(password, sizeof(password));
    return code == MOSQ_ERR_SUCCESS ||
           trouble_set(trouble, "", "user \"%s\": %s", settings->user, mosquitto_strerror(code));
}

static bool readable(const char *what, const char *path, struct trouble *trouble)
{
    return !path[0] || access(path, R_OK) == 0 ||
           file_trouble(trouble, what, path, strerror(errno));
}

static const char *or_none(const char *path)
{
    return path[0] ? path : NULL;
}

static bool set_tls(const struct mqtt_settings *settings, struct mosquitto *client,
                    struct trouble *trouble)
{
    if (!settings->tls)
        return true;
    if (!readable("CA file", settings->ca_file, trouble) ||
        !readable("certificate file", settings->certificate_file, trouble) ||
        !readable("key file", settings->key_file, trouble))
        return false;
    int code = mosquitto_tls_set(
        client, or_none(settings->ca_file), settings->ca_file[0] ? NULL : SYSTEM_AUTHORITIES,
        or_none(settings->certificate_file), or_none(settings->key_file), NULL);
    return code == MOSQ_ERR_SUCCESS ||
           trouble_set(trouble, "", "TLS: %s",
                       code == MOSQ_ERR_INVAL ? "a certificate and its key belong together"
                                              : mosquitto_strerror(code));
}

static bool prepare(const struct mqtt_settings *settings, struct mosquitto *client,
                    const char *will_topic, struct trouble *trouble)
{
    static const char lost[] = "lost"; /* Homie 5, "Device Lifecycle" */
    int code = mosquitto_will_set(client, will_topic, sizeof(lost) - 1, lost, 1, true);
    if (code != MOSQ_ERR_SUCCESS)
        return trouble_set(trouble, "", "last will on %s: %s", will_topic,
                           mosquitto_strerror(code));
    /* Others publish through the client while the thread is in its loop. */
    mosquitto_threaded_set(client, true);
    return set_password(settings, client, trouble) && set_tls(settings, client, trouble);
}

struct mosquitto *mosquitto_client_new(const struct mqtt_settings *settings, void *context,
                                       const char *will_topic, struct trouble *trouble)
{
    const char *id = or_none(settings->client_id); /* none: the library makes one up */
    struct mosquitto *client = mosquitto_new(id, true, context);
    if (!client) {
        trouble_set(trouble, "", "no client: %s", strerror(errno));
        return NULL;
    }
    if (prepare(settings, client, will_topic, trouble))
        return client;
    mosquitto_destroy(client);
    return NULL;
}
