/** Where core.wasm is to be had; see vite.config.ts. */
declare module "virtual:chipfall-core" {
  const url: string;
  export default url;
}
