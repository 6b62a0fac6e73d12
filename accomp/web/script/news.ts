// What the desk tells by itself: server-sent events, from the first one to the last.

import type { Job } from "./ask";
import type { Desk } from "./desk";

/** Hear what is told; `run` is the desk's run that was heard of last. */
export function hear(desk: Desk, run = ""): void {
  const events = new EventSource("/api/events");
  events.addEventListener("desk", (event) => {
    const told = JSON.parse(event.data as string) as { run: string };
    const before = run;
    run = told.run;
    document.documentElement.dataset.desk = "here";
    if (!before) return;
    desk.say(told.run === before ? "" : "The desk was started anew and goes on here.");
    void desk.catchUp();
  });
  events.addEventListener("job", (event) => void desk.job(JSON.parse(event.data as string) as Job));
  events.addEventListener("shelf", (event) => void desk.moved(JSON.parse(event.data as string) as { changed: string[] }));
  events.addEventListener("doing", (event) => {
    const { what, share } = JSON.parse(event.data as string) as { what: string; share: number };
    desk.said.work(what, share);
  });
  events.onerror = () => {
    desk.away();
    if (events.readyState === EventSource.CLOSED) setTimeout(() => hear(desk, run), 2000);
  };
}
