import { render } from "preact";
import { App } from "./app";
import "./look/page.css";

render(<App />, document.getElementById("page")!);
