// Hands on to each widget what the kernel tells all of them in one message.
function initialize({ model }) {
  model.on("msg:custom", told => {
    for (const [id, state] of told) {
      const content = {comm_id: id, data: {method: "update", state, buffer_paths: []}};
      model.widget_manager.get_model(id).then(one => one._handle_comm_msg({content, buffers: []}))
        .catch(error => console.warn("drinklab", error)); // closed meanwhile
    }
  });
  model.set("ready", true);
  model.save_changes();
}
export default { initialize };
