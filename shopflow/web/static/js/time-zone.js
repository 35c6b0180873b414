// The time zone of the browser, proposed where none is chosen yet.
const zone = document.getElementById("time_zone");
const own = Intl.DateTimeFormat().resolvedOptions().timeZone;
if (zone && !zone.value && Array.from(zone.options).some((option) => option.value === own)) zone.value = own;
